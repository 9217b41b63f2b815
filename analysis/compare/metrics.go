package compare

import (
	"math"
	"slices"

	"rundown/analysis"
	"rundown/analysis/beat"
	"rundown/analysis/rate"
	"rundown/analysis/runs"
)

// What a figure is taken over.
const (
	wholeRun   = "the whole of each run"
	inCommon   = "the time in common"
	likeSwings = "equal amplitudes"
)

// What two recordings of the same movement differ by because a microphone was
// put up twice, one standard deviation of each: with another sound, the marks
// of tick and tock lie differently.
const (
	setupBeatError = 0.04e-3 // s
	setupAmplitude = 0.01    // of the amplitude
	setupJitter    = 0.08    // of the jitter
)

func blank(name, label, unit string, aim Aim, over string) Metric {
	none := analysis.None()
	return Metric{
		Name: name, Label: label, Unit: unit, Aim: aim, Over: over, Verdict: NoDifference,
		Before: none, After: none, Difference: none, Low: none, High: none, PValue: none,
	}
}

func (m *Metric) set(before, after float64) {
	m.Before, m.After, m.Difference = analysis.Number(before), analysis.Number(after), analysis.Number(after-before)
}

func (m *Metric) interval(low, high, p float64) {
	m.Low, m.High, m.PValue = analysis.Number(low), analysis.Number(high), analysis.Number(p)
}

// doubt sets interval and probability by the distribution of the error of the
// difference.
func (m *Metric) doubt(d doubt) {
	if len(d) == 0 || !m.Difference.Known() || math.IsNaN(d[0].sigma) {
		return
	}
	x, half := float64(m.Difference), d.half()
	m.interval(x-half, x+half, d.past(x))
}

// comparer holds what the metrics are taken from.
type comparer struct {
	before, after *runs.Run
	pairs         []pair
	over          string
	tolerance     float64
	rates         pairedSeries
	models        []level // of the difference of the rates
}

// paired compares the means of a figure over the pairs. setup is the standard
// deviation of its difference between two recordings, whatever the movement.
func (c *comparer) paired(name, label, unit string, aim Aim, scale float64, get figure, setup func(before, after float64) float64) Metric {
	m := blank(name, label, unit, aim, c.over)
	ps := pairUp(c.before, c.after, c.pairs, get)
	if ps.difference.len() < leastPairs {
		m.Note = "It is not known in enough windows of both runs."
		return m
	}
	w := ps.difference.evenly()
	a, b := weighted(w, ps.before), weighted(w, ps.after)
	m.set(scale*a, scale*b)
	d := ps.difference.doubtOf(w, ps.difference.levels()).and(setup(a, b))
	for i := range d {
		d[i].sigma *= scale
	}
	m.doubt(d)
	return m
}

// clockError is what the recorder's clock adds to the error of a mean rate,
// s/day; 0 where it is not known, which the notes say.
func clockError(r *runs.Run) float64 {
	if se := r.Summary.Rate.ClockSE; se.Known() {
		return float64(se)
	}
	return 0
}

func (c *comparer) metrics() []Metric {
	ms := []Metric{c.paired("mean_rate", "mean rate", "s/day", NearerZero, 1, rateOf, func(_, _ float64) float64 {
		clocks := math.Hypot(clockError(c.before), clockError(c.after))
		if c.over != likeSwings {
			return clocks
		}
		return math.Hypot(clocks, math.Hypot(swingError(c.before), swingError(c.after)))
	})}
	ms = append(ms, c.courses()...)
	ms = append(ms, c.isochronism(), c.jitter(), c.beatError())
	ms = append(ms, c.amplitudes()...)
	ms = append(ms,
		c.counts("hesitations", "hesitations", func(e beat.Event) bool { return e.Kind == beat.Late || e.Kind == beat.Early }),
		c.counts("missed", "missed beats", func(e beat.Event) bool { return e.Kind == beat.Missed }),
		c.counts("stops", "stops", func(e beat.Event) bool { return e.Kind == beat.Stop }),
	)
	return append(ms, recurrences(c.before, c.after)...)
}

func rateOf(w *rate.Window) rate.Value { return w.Rate }

// swingError is by how much a rate is in error where it is taken at an amplitude
// that is, s/day.
func swingError(r *runs.Run) float64 {
	course := falling(r)
	perUnit, _ := slope(r, course, math.Inf(-1), math.Inf(1), nil)
	return setupAmplitude * math.Abs(perUnit*course[len(course)/2].amplitude)
}

func (c *comparer) jitter() Metric {
	m := c.paired("jitter", "jitter", "µs", Smaller, 1e6, func(w *rate.Window) rate.Value {
		// The efficiency of the median absolute deviation is 0.37.
		return rate.Value{X: w.Jitter, SE: w.Jitter / math.Sqrt(2*0.37*float64(max(w.Heard, 1)))}
	}, func(a, b float64) float64 { return setupJitter * math.Hypot(a, b) })
	if c.before.Summary.Recording.SampleRate != c.after.Summary.Recording.SampleRate {
		m.unjudged("The sample rates differ.")
	}
	return m
}

// beatError compares the sizes of the beat errors. Their signs are those of the
// side that was heard first, and which one that was is chance.
func (c *comparer) beatError() Metric {
	upright(c.before.Windows)
	upright(c.after.Windows)
	m := c.paired("beat_error", "beat error, size", "ms", Smaller, 1e3, func(w *rate.Window) rate.Value { return w.BeatError },
		func(_, _ float64) float64 { return math.Sqrt2 * setupBeatError })
	for _, r := range []*runs.Run{c.before, c.after} {
		if r.Summary.Beat.Mark != analysis.MidLift {
			m.unjudged("The lift could not be measured: tick and tock may be marked at different sounds.")
		}
	}
	return m
}

// upright turns the sides round where the beat errors are negative on the
// whole.
func upright(ws []rate.Window) {
	sum := 0.0
	for i := range ws {
		if known(ws[i].BeatError) {
			sum += float64(ws[i].Heard) * ws[i].BeatError.X
		}
	}
	if sum >= 0 {
		return
	}
	for i := range ws {
		ws[i].BeatError.X = -ws[i].BeatError.X
	}
}

// unjudged takes interval and probability away, and says why.
func (m *Metric) unjudged(why string) {
	nan := math.NaN()
	m.interval(nan, nan, nan)
	m.Note = why
}

func (c *comparer) courses() []Metric {
	a, b := courseOf(c.before.Windows, c.tolerance), courseOf(c.after.Windows, c.tolerance)
	var found, half, p course
	for k := range found {
		found[k] = b[k] - a[k]
		half[k], p[k] = math.NaN(), math.NaN()
	}
	if len(c.models) > 0 {
		half, p = compareCourses(c.before, c.after, c.models, c.tolerance, found)
	}
	ms := []Metric{
		runSpread:  blank("rate_spread", "spread of rate", "s/day", Smaller, wholeRun),
		bandSpread: blank("band_spread", "spread in band", "s/day", Smaller, "the stable band of each run"),
		bandLength: blank("band_length", "length of band", "h", Larger, wholeRun),
	}
	for k := range ms {
		scale := 1.0
		if k == bandLength {
			scale = 1. / 3600
		}
		ms[k].set(scale*a[k], scale*b[k])
		ms[k].interval(scale*(found[k]-half[k]), scale*(found[k]+half[k]), p[k])
	}
	if math.IsNaN(found[bandSpread]) {
		ms[bandSpread].Note = "A run has no stable band."
	}
	return ms
}

// isochronism compares the slopes of rate against amplitude over the amplitudes
// that both runs went through.
func (c *comparer) isochronism() Metric {
	unit := "s/day/°"
	if c.before.Kind == rate.LiftTime {
		unit = "s/day/ms"
	}
	m := blank("isochronism", "isochronism slope", unit, NearerZero, "the amplitudes in common")
	if c.before.Kind != c.after.Kind || c.before.Kind == rate.Level {
		m.Note = "It takes a lift angle, and beats whose lift can be measured, in both runs."
		return m
	}
	a, b := falling(c.before), falling(c.after)
	if len(a) == 0 || len(b) == 0 {
		return m
	}
	high, low := min(a[0].amplitude, b[0].amplitude), max(a[len(a)-1].amplitude, b[len(b)-1].amplitude)
	x, dx := slope(c.before, a, low, high, c.models)
	y, dy := slope(c.after, b, low, high, c.models)
	if dx == nil || dy == nil {
		m.Note = "The amplitude changes too little to tell."
		return m
	}
	scale := 1.0
	if c.before.Kind == rate.LiftTime {
		scale = -1e-3 // the course of lift times was turned round, in seconds
	}
	m.set(scale*x, scale*y)
	for k := range dx {
		dx[k].sigma = math.Abs(scale) * math.Hypot(dx[k].sigma, dy[k].sigma)
	}
	m.doubt(dx)
	return m
}

// slope returns the slope of rate against amplitude between two amplitudes,
// and its doubt; nil where it can't be told. Which windows are the first and the
// last within those amplitudes is chance, and part of the doubt: there the rate
// bends most.
func slope(r *runs.Run, course []swing, low, high float64, models []level) (float64, doubt) {
	var s series
	var amplitude, errors []float64
	for _, p := range course {
		w := &r.Windows[p.window]
		if known(w.Rate) && p.amplitude >= low && p.amplitude <= high {
			s.add((w.Start+w.End)/2, w.Rate.X, w.Rate.SE)
			amplitude = append(amplitude, p.amplitude)
			errors = append(errors, w.Amplitude.SE)
		}
	}
	n := len(amplitude)
	if n < 2*leastPairs {
		return 0, nil
	}
	if reach := amplitude[0] - amplitude[n-1]; !(reach > 5*medianOf(errors)) || reach < 0.01*math.Abs(amplitude[0]) {
		return 0, nil
	}
	halved := make([]level, len(models))
	for k, m := range models {
		m.walk /= 2
		halved[k] = m
	}
	weights := regression(s.evenly(), amplitude)
	x := weighted(weights, s.y)
	edges := 0.0
	for _, i := range []int{0, n - 1} {
		without := s.evenly()
		without[i] = 0
		edges = max(edges, math.Abs(weighted(regression(without, amplitude), s.y)-x))
	}
	return x, s.doubtOf(weights, halved).and(edges)
}

// regression turns weights into those of the slope against x.
func regression(weights, x []float64) []float64 {
	total, mean, square := 0.0, weighted(weights, x), 0.0
	for _, w := range weights {
		total += w
	}
	mean /= total
	for i, w := range weights {
		square += w * (x[i] - mean) * (x[i] - mean)
	}
	for i := range weights {
		weights[i] *= (x[i] - mean) / square
	}
	return weights
}

// amplitudes compares where the amplitude begins and ends.
func (c *comparer) amplitudes() []Metric {
	unit, aim, scale := "°", Larger, 1.0
	what := "amplitude"
	switch c.before.Kind {
	case rate.LiftTime:
		unit, aim, scale, what = "ms", Smaller, 1e3, "lift time"
	case rate.Level:
		unit, what = "dBFS", "level"
	}
	ms := []Metric{
		blank("amplitude_start", what+" at the start", unit, aim, "the first window of each run"),
		blank("amplitude_end", what+" at the end", unit, aim, "the last window of each run"),
	}
	if c.before.Kind != c.after.Kind {
		for i := range ms {
			ms[i].Note = "The runs have different measures of amplitude."
		}
		return ms
	}
	a, b := ends(c.before), ends(c.after)
	for i := range ms {
		m := &ms[i]
		m.set(scale*a[i].X, scale*b[i].X)
		if !m.Difference.Known() {
			m.Note = "The amplitude could not be measured there in both runs."
		}
		setup := setupAmplitude * math.Hypot(a[i].X, b[i].X)
		m.doubt(doubt{{1, scale * math.Sqrt(a[i].SE*a[i].SE+b[i].SE*b[i].SE+setup*setup), 30}})
		if c.before.Kind == rate.Level {
			m.unjudged("A microphone put up again is louder or softer by as much.")
		}
	}
	return ms
}

// ends returns the amplitude of the first and the last full window in which the
// movement was heard, or of the window next to it. How far it falls within a
// window is part of its error: where a window begins is chance.
func ends(r *runs.Run) [2]rate.Value {
	var heard []*rate.Window
	for i := range r.Windows[:full(r)] {
		if w := &r.Windows[i]; w.Heard > 0 && 2*w.Heard >= w.Beats {
			heard = append(heard, w)
		}
	}
	first := endOf(heard)
	slices.Reverse(heard)
	return [2]rate.Value{first, endOf(heard)}
}

// endOf returns the amplitude at the beginning of ws.
func endOf(ws []*rate.Window) rate.Value {
	for i := range min(2, len(ws)-1) {
		if v, next := ws[i].Amplitude, ws[i+1].Amplitude; known(v) && known(next) {
			return rate.Value{X: v.X, SE: math.Hypot(v.SE, float64(1+i)*(v.X-next.X)/math.Sqrt(12))}
		}
	}
	return rate.Value{X: math.NaN(), SE: math.NaN()}
}

func (c *comparer) counts(name, label string, want func(beat.Event) bool) Metric {
	m := blank(name+"_per_hour", label, "/h", Smaller, wholeRun)
	a, b := countOf(c.before, want), countOf(c.after, want)
	m.set(a.rate(), b.rate())
	m.interval(compareCounts(a, b))
	return m
}
