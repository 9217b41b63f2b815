package compare

import (
	"math"
	"slices"

	"gonum.org/v1/gonum/stat/distuv"

	"rundown/analysis"
	"rundown/analysis/beat"
	"rundown/analysis/rate"
	"rundown/analysis/runs"
	"rundown/dsp/stats"
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
		Before: none, After: none, Difference: none, Low: none, High: none, PValue: none, RunSD: none,
		BeforeRuns: []analysis.Number{}, AfterRuns: []analysis.Number{},
	}
}

// set sets the figure of every run, those before the change first.
func (m *Metric) set(first int, all []float64) {
	before, after := all[:first], all[first:]
	a, b := stats.Mean(before), stats.Mean(after)
	m.Before, m.After, m.Difference = analysis.Number(a), analysis.Number(b), analysis.Number(b-a)
	m.BeforeRuns, m.AfterRuns = as[analysis.Number](before), as[analysis.Number](after)
}

// as are figures in another type.
func as[To, From ~float64](xs []From) []To {
	out := make([]To, len(xs))
	for i, x := range xs {
		out[i] = To(x)
	}
	return out
}

// set sets a figure of all runs, multiplied by a scale.
func (c *comparer) set(m *Metric, scale float64, of func(*runs.Run) float64) {
	xs := make([]float64, len(c.all))
	for k, r := range c.all {
		xs[k] = scale * of(r)
	}
	m.set(c.first, xs)
}

func (m *Metric) interval(low, high, p float64) {
	m.Low, m.High, m.PValue = analysis.Number(low), analysis.Number(high), analysis.Number(p)
}

// setError sets interval and probability by the distribution of the error of the
// difference.
func (m *Metric) setError(d stats.Mixture) {
	if len(d) == 0 || !m.Difference.Known() || math.IsNaN(d[0].Sigma) {
		return
	}
	x, half := float64(m.Difference), d.Half()
	m.interval(x-half, x+half, d.Beyond(x))
}

// repeats lets what runs of one state differ by into interval and probability:
// Student's t of the runs' figures. What the runs cannot know on their own is in
// their scatter already, but few of them may agree by chance, so that the wider
// interval and the larger probability of the two hold.
func (m *Metric) repeats() {
	if !m.Difference.Known() {
		return
	}
	g := stats.Pool(as[float64](m.BeforeRuns), as[float64](m.AfterRuns))
	if g.Freedom == 0 || math.IsNaN(g.SE) {
		return
	}
	m.RunSD = analysis.Number(g.SD)
	if !m.PValue.Known() {
		return
	}
	d, x := g.Doubt().And(m.common), float64(m.Difference)
	half := d.Half()
	m.interval(min(float64(m.Low), x-half), max(float64(m.High), x+half), max(float64(m.PValue), d.Beyond(x)))
}

// comparer holds what the metrics are taken from.
type comparer struct {
	all       []*runs.Run
	first     int // of them so many are of the state before
	rows      []row
	over      string
	tolerance float64
	rates     stats.Series  // the difference of the rates
	models    []stats.Level // of it
}

// paired compares the means of a figure over the windows in common. setup is the
// standard deviation of the figure of a run from one recording to another,
// whatever the movement, and common that of the difference which all runs share.
func (c *comparer) paired(name, label, unit string, aim Aim, scale float64, get figure, common float64, setup func(r *runs.Run, size float64) float64) Metric {
	m := blank(name, label, unit, aim, c.over)
	cols := c.columns(get)
	if cols.difference.Len() < stats.LeastFigures {
		m.Note = "It is not known in enough windows of all runs."
		return m
	}
	w := cols.difference.Evenly()
	means, variance := make([]float64, len(c.all)), common*common
	for k, ys := range cols.runs {
		means[k] = stats.Weighted(w, ys)
		variance += math.Pow(c.share(k)*setup(c.all[k], means[k]), 2)
		means[k] *= scale
	}
	m.set(c.first, means)
	d := cols.difference.DoubtOf(w, cols.difference.Levels()).And(math.Sqrt(variance))
	for i := range d {
		d[i].Sigma *= scale
	}
	m.setError(d)
	return m
}

// clocks is what the recorder's clock adds to the error of the difference of the
// mean rates, s/day, where one correction holds for all runs of a state; 0 where
// it is not known, which the notes say.
func (c *comparer) clocks() float64 {
	var worst [2]float64
	for k, r := range c.all {
		if se := r.Summary.Rate.ClockSE; se.Known() {
			worst[c.state(k)] = max(worst[c.state(k)], float64(se))
		}
	}
	return math.Hypot(worst[0], worst[1])
}

// metrics are all figures, in the order of the table.
func (c *comparer) metrics() []Metric {
	ms := []Metric{c.meanRate()}
	ms = append(ms, c.courses()...)
	ms = append(ms, c.isochronism(), c.jitter(), c.beatError())
	ms = append(ms, c.amplitudes()...)
	ms = append(ms,
		c.counts("hesitations", "hesitations", func(e beat.Event) bool { return e.Kind == beat.Late || e.Kind == beat.Early }),
		c.counts("missed", "missed beats", func(e beat.Event) bool { return e.Kind == beat.Missed }),
		c.counts("stops", "stops", func(e beat.Event) bool { return e.Kind == beat.Stop }),
	)
	ms = append(ms, c.recurrences()...)
	for i := range ms {
		ms[i].own = float64(ms[i].High-ms[i].Low) / (2 * distuv.UnitNormal.Quantile(0.975) * math.Sqrt(c.differenceVariance()))
		ms[i].repeats()
	}
	return ms
}

func (c *comparer) meanRate() Metric {
	common := c.clocks()
	m := c.paired("mean_rate", "mean rate", "s/day", NearerZero, 1, rateOf, common, func(r *runs.Run, _ float64) float64 {
		if c.over == likeSwings {
			return swingError(r)
		}
		return 0
	})
	m.common = common
	return m
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
	}, 0, func(_ *runs.Run, size float64) float64 { return setupJitter * size })
	for _, r := range c.all {
		if r.Summary.Recording.SampleRate != c.all[0].Summary.Recording.SampleRate {
			m.unjudged("The sample rates differ.")
		}
	}
	return m
}

// beatError compares the sizes of the beat errors. Their signs are those of the
// side that was heard first, and which one that was is chance. What the marks leave uncertain of
// each, no number of windows tells.
func (c *comparer) beatError() Metric {
	for _, r := range c.all {
		upright(r.Windows)
	}
	m := c.paired("beat_error", "beat error, size", "ms", Smaller, 1e3, func(w *rate.Window) rate.Value { return w.BeatError },
		0, func(r *runs.Run, _ float64) float64 {
			if se := r.Summary.BeatError.SE; se.Known() {
				return math.Hypot(setupBeatError, float64(se)/1e3)
			}
			return setupBeatError
		})
	for _, r := range c.all {
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
	all := make([]course, len(c.all))
	var found, half, p course
	for k, r := range c.all {
		all[k] = courseOf(r.Windows, c.tolerance)
		for i := range found {
			found[i] += c.share(k) * all[k][i]
			half[i], p[i] = math.NaN(), math.NaN()
		}
	}
	if len(c.models) > 0 {
		half, p = c.compareCourses(found)
	}
	ms := []Metric{
		runSpread:  blank("rate_spread", "spread of rate", "s/day", Smaller, wholeRun),
		bandSpread: blank("band_spread", "spread in band", "s/day", Smaller, "the stable band of each run"),
		bandLength: blank("band_length", "length of band", "h", Larger, wholeRun),
	}
	for i := range ms {
		scale := 1.0
		if i == bandLength {
			scale = 1. / 3600
		}
		figures := make([]float64, len(all))
		for k := range all {
			figures[k] = scale * all[k][i]
		}
		ms[i].set(c.first, figures)
		ms[i].interval(scale*(found[i]-half[i]), scale*(found[i]+half[i]), p[i])
	}
	if math.IsNaN(found[bandSpread]) {
		ms[bandSpread].Note = "A run has no stable band."
	}
	return ms
}

// isochronism compares the slopes of rate against amplitude over the amplitudes
// that all runs went through.
func (c *comparer) isochronism() Metric {
	kind := c.all[0].Kind
	unit, scale := "s/day/°", 1.0
	if kind == rate.LiftTime {
		unit, scale = "s/day/ms", -1e-3 // the course of lift times was turned round, in seconds
	}
	m := blank("isochronism", "isochronism slope", unit, NearerZero, "the amplitudes in common")
	if !c.sameKind() || kind == rate.Level {
		m.Note = "It takes a lift angle, and beats whose lift can be measured, in all runs."
		return m
	}
	courses := make([][]swing, len(c.all))
	high, low := math.Inf(1), math.Inf(-1)
	for k, r := range c.all {
		courses[k] = falling(r)
		if len(courses[k]) == 0 {
			return m
		}
		high, low = min(high, courses[k][0].amplitude), max(low, courses[k][len(courses[k])-1].amplitude)
	}
	figures, d := make([]float64, len(c.all)), make(stats.Mixture, len(c.models))
	for k, r := range c.all {
		x, dx := slope(r, courses[k], low, high, c.shared())
		if dx == nil {
			m.Note = "The amplitude changes too little to tell."
			return m
		}
		figures[k] = scale * x
		for i := range d {
			d[i].Weight, d[i].Freedom = dx[i].Weight, dx[i].Freedom
			d[i].Sigma = math.Hypot(d[i].Sigma, scale*c.share(k)*dx[i].Sigma)
		}
	}
	m.set(c.first, figures)
	m.setError(d)
	return m
}

// sameKind reports whether all runs have one measure of amplitude.
func (c *comparer) sameKind() bool {
	return !slices.ContainsFunc(c.all, func(r *runs.Run) bool { return r.Kind != c.all[0].Kind })
}

// shared are the models of one run, where c.models are those of the difference of
// the means: each run has its share of the walk.
func (c *comparer) shared() []stats.Level {
	out := slices.Clone(c.models)
	for k := range out {
		out[k].Walk /= c.differenceVariance()
	}
	return out
}

// slope returns the slope of rate against amplitude between two amplitudes,
// and its doubt; nil where it can't be told. Which windows are the first and the
// last within those amplitudes is chance, and part of the doubt: there the rate
// bends most.
func slope(r *runs.Run, course []swing, low, high float64, models []stats.Level) (float64, stats.Mixture) {
	var s stats.Series
	var amplitude, errors []float64
	for _, p := range course {
		w := &r.Windows[p.window]
		if known(w.Rate) && p.amplitude >= low && p.amplitude <= high {
			s.Add((w.Start+w.End)/2, w.Rate.X, w.Rate.SE)
			amplitude = append(amplitude, p.amplitude)
			errors = append(errors, w.Amplitude.SE)
		}
	}
	n := len(amplitude)
	if n < 2*stats.LeastFigures {
		return 0, nil
	}
	if reach := amplitude[0] - amplitude[n-1]; !(reach > 5*stats.Median(slices.Clone(errors))) || reach < 0.01*math.Abs(amplitude[0]) {
		return 0, nil
	}
	weights := regression(s.Evenly(), amplitude)
	x := stats.Weighted(weights, s.Y)
	edges := 0.0
	for _, i := range []int{0, n - 1} {
		without := s.Evenly()
		without[i] = 0
		edges = max(edges, math.Abs(stats.Weighted(regression(without, amplitude), s.Y)-x))
	}
	return x, s.DoubtOf(weights, models).And(edges)
}

// regression turns weights into those of the slope against x.
func regression(weights, x []float64) []float64 {
	total, mean, square := 0.0, stats.Weighted(weights, x), 0.0
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
	switch c.all[0].Kind {
	case rate.LiftTime:
		unit, aim, scale, what = "ms", Smaller, 1e3, "lift time"
	case rate.Level:
		unit, what = "dBFS", "level"
	}
	ms := []Metric{
		blank("amplitude_start", what+" at the start", unit, aim, "the first window of each run"),
		blank("amplitude_end", what+" at the end", unit, aim, "the last window of each run"),
	}
	if !c.sameKind() {
		for i := range ms {
			ms[i].Note = "The runs have different measures of amplitude."
		}
		return ms
	}
	for i := range ms {
		m := &ms[i]
		figures, variance := make([]float64, len(c.all)), 0.0
		for k, r := range c.all {
			v := ends(r)[i]
			figures[k] = scale * v.X
			variance += math.Pow(scale*c.share(k), 2) * (v.SE*v.SE + math.Pow(setupAmplitude*v.X, 2))
		}
		m.set(c.first, figures)
		if !m.Difference.Known() {
			m.Note = "The amplitude could not be measured there in all runs."
		}
		m.setError(stats.Mixture{{Weight: 1, Sigma: math.Sqrt(variance), Freedom: 30}})
		if c.all[0].Kind == rate.Level {
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

// counts compares how often something happened: the runs of a state together as
// one count, and run by run.
func (c *comparer) counts(name, label string, want func(beat.Event) bool) Metric {
	m := blank(name+"_per_hour", label, "/h", Smaller, wholeRun)
	var together [2]count
	c.set(&m, 1, func(r *runs.Run) float64 { return countOf(r, want).rate() })
	for k, r := range c.all {
		n, state := countOf(r, want), &together[c.state(k)]
		state.n, state.hours, state.clusters = state.n+n.n, state.hours+n.hours, max(state.clusters, n.clusters)
	}
	low, high, p := compareCounts(together[0], together[1])
	// The mean of the runs' rates is not quite the rate of all their hours.
	off := float64(m.Difference) - (together[1].rate() - together[0].rate())
	m.interval(low+off, high+off, p)
	return m
}
