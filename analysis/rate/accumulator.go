package rate

import (
	"math"
	"slices"

	"rundown/analysis/beat"
	"rundown/analysis/sequence"
)

// Residuals is given each window as it is finished, its beats, and for each
// beat its residual in seconds: its time less that of the window's fit, each
// side on its own, curvature taken out; NaN for a beat that was not heard, and
// for all beats of a window with too few to fit. The window's rate, amplitude
// in degrees and smoothed rate are not known yet. All three are the callee's
// only until it returns.
type Residuals func(w *Window, beats []beat.Beat, residual []float64)

// Accumulator cuts a stream of beats into windows and fits each. Memory grows
// with the number of windows and phase samples, some tens of bytes for every
// second of the run.
type Accumulator struct {
	width     float64
	residuals Residuals

	next  int     // number of the window being filled
	end   float64 // its end, s
	beats []beat.Beat
	runs  []int // for each beat, the stretch between jumps that it is in
	done  bool

	breaks  []jump // not reached by the beats yet, in order of beat
	run     int    // stretch of the last beat
	stops   [][2]float64
	lost    float64 // cost of the jumps passed, s
	counted int64
	heard   int64

	fit      fitter
	share    float64 // by how much the beat error grows with the lift
	off      float64 // by what part of its growth it may be off
	uneven   float64 // beat error of the last window that has one, s; NaN before
	residual []float64
	tally    tally
	sampler  sampler
	scatter  []scatter
	// The beats of the window being closed, and the last few before it.
	recent     []beat.Beat
	recentRuns []int
}

// jump is where the beats stop being evenly spaced.
type jump struct {
	beat  int64   // first beat after it
	shift float64 // time lost, s
	slips bool    // it is the beats that slipped, and went on meanwhile
}

// scatter is the jitter of one window.
type scatter struct{ variance, freedom float64 }

// NewAccumulator returns an accumulator of windows of the given width in
// seconds. residuals may be nil. It panics where width is not positive.
func NewAccumulator(width float64, residuals Residuals) *Accumulator {
	if !(width > 0) {
		panic("rate: width of a window not positive")
	}
	if residuals == nil {
		residuals = func(*Window, []beat.Beat, []float64) {}
	}
	a := &Accumulator{width: width, end: width, residuals: residuals, uneven: math.NaN()}
	a.Expect(func(float64) float64 { return math.NaN() }, math.NaN(), math.NaN())
	return a
}

// Teeth is told what comes round with the escape wheel, before the first batch: the
// figures are those of beats freed of it, and residuals are not. Without, the
// unevenness of the teeth counts as scatter.
func (a *Accumulator) Teeth(turns []sequence.Turn) { a.fit.teeth.turns = turns }

// Expect is told, before the first batch, what beat error is to be expected at a true
// time, both in seconds, NaN where that is not known, by how much it grows with the lift,
// and by what part of its growth it may be off (one standard error): where the beats of a
// side are hardly heard, that is how it changes.
func (a *Accumulator) Expect(beatError func(at float64) float64, share, off float64) {
	a.fit.expect, a.share, a.off = beatError, share, off
}

// Append takes a batch and appends the windows that it finishes to dst: from 0
// on, one after the other, without a hole. The batch's memory is not kept. It
// panics after Flush.
func (a *Accumulator) Append(dst []Window, b *beat.Batch) []Window {
	if a.done {
		panic("rate: Append after Flush")
	}
	for i := range b.Events {
		a.event(&b.Events[i])
	}
	for _, x := range b.Beats {
		for x.Time >= a.end {
			dst = append(dst, a.finish(a.end))
		}
		for len(a.breaks) > 0 && a.breaks[0].beat <= x.Index {
			a.lost += a.breaks[0].shift
			a.tally.jumps = append(a.tally.jumps, a.breaks[0])
			a.run++
			a.breaks = a.breaks[1:]
		}
		a.beats = append(a.beats, x)
		a.runs = append(a.runs, a.run)
	}
	return dst
}

// Flush appends the last windows to dst, up to end, the duration of the
// recording in true seconds. Beats after end are counted to the last window.
func (a *Accumulator) Flush(dst []Window, end float64) []Window {
	if a.done {
		panic("rate: Flush after Flush")
	}
	a.done = true
	const sliver = 1e-9 // of a window: rounding, not time
	for a.end < end-sliver*a.width {
		dst = append(dst, a.finish(a.end))
	}
	start := float64(a.next) * a.width
	if end > start+sliver*a.width || len(a.beats) > 0 {
		dst = append(dst, a.finish(math.Max(end, start)))
	}
	a.sampler.flush()
	a.tally.teeth.close(&a.fit.teeth)
	return dst
}

// Phase returns the time error of the run, sampled: after Flush that of the
// beats' mark.
func (a *Accumulator) Phase() Phase { return a.sampler.phase }

// event notes a jump or a standstill.
func (a *Accumulator) event(e *beat.Event) {
	j := jump{beat: e.Beat, shift: e.Shift}
	switch e.Kind {
	case beat.Late, beat.Early:
		j.slips = true
	case beat.Gap:
		if e.Shift == 0 {
			return
		}
	case beat.Stop:
		a.stops = append(a.stops, [2]float64{e.Start, e.End})
		j.beat++
	default:
		return
	}
	i, _ := slices.BinarySearchFunc(a.breaks, j.beat, func(x jump, at int64) int {
		if x.beat <= at {
			return -1
		}
		return 1
	})
	a.breaks = slices.Insert(a.breaks, i, j)
}

// finish closes the window being filled at end and starts the next one.
func (a *Accumulator) finish(end float64) Window {
	nan := Value{math.NaN(), math.NaN()}
	w := Window{
		Start: float64(a.next) * a.width, End: end,
		Beats:  len(a.beats),
		Period: nan, Rate: nan, Smoothed: nan, BeatError: nan, Jitter: math.NaN(), Amplitude: nan,
	}
	w.Heard, w.Level = level(a.beats)
	w.Stopped = a.stopped(w.Start, w.End)
	a.counted += int64(w.Beats)
	a.heard += int64(w.Heard)

	a.residual = a.residual[:0]
	for range a.beats {
		a.residual = append(a.residual, math.NaN())
	}
	line, ok := a.fit.fit(a.beats, a.runs)
	if ok && a.inBeat(line) {
		w.Period = Value{2 * line.interval, 2 * math.Sqrt(line.variance) * line.student}
		w.BeatError = line.beatError
		w.Jitter = line.jitter
		a.scatter = append(a.scatter, scatter{line.jitter * line.jitter, line.freedom})
		a.tally.add(&a.fit, line.interval)
		a.sampler.add(&a.fit, a.tally.offsets, line.interval)
		for _, p := range a.fit.points {
			a.residual[p.at] = p.r + p.late
		}
	}
	a.recent, a.recentRuns = append(a.recent, a.beats...), append(a.recentRuns, a.runs...)
	if n := len(a.scatter); n > 0 {
		a.tally.extend(a.recent, a.recentRuns, math.Sqrt(a.scatter[n-1].variance))
	}
	few := max(0, len(a.recent)-5)
	a.recent, a.recentRuns = append(a.recent[:0], a.recent[few:]...), append(a.recentRuns[:0], a.recentRuns[few:]...)
	if n := len(a.beats); n > 0 {
		w.begin, w.end = a.beats[0].Time, a.beats[n-1].Time
		w.share, w.off = a.share, a.off
		w.expected = [2]float64{a.fit.expect(w.begin), a.fit.expect(w.end)}
		w.oneSided = !bothThroughout(a.beats)
		a.residuals(&w, a.beats, a.residual)
	}
	a.beats, a.runs = a.beats[:0], a.runs[:0]
	a.next++
	a.end = float64(a.next+1) * a.width
	return w
}

// inBeat reports whether the beat error of a window is one that can follow that of the
// window before it. What is taken for the beats of a side where noise is louder lies
// anywhere, and no rate is to be had from it.
func (a *Accumulator) inBeat(line lineFit) bool {
	const most = 0.2 // of the interval between beats, by feel: to the stop it grows by less in a minute
	grown := math.Abs(line.beatError.X - a.uneven)
	if !math.IsNaN(line.beatError.X) {
		a.uneven = line.beatError.X
	}
	return !(grown > most*line.interval)
}

// stopped reports that a stop touches the span, and forgets stops that lie
// before it.
func (a *Accumulator) stopped(start, end float64) bool {
	a.stops = slices.DeleteFunc(a.stops, func(s [2]float64) bool { return s[1] <= start })
	return slices.ContainsFunc(a.stops, func(s [2]float64) bool { return s[0] < end })
}

// level returns the number of beats heard and their mean level in dBFS, both
// sides counting alike, with its standard error from the scatter of each side.
func level(beats []beat.Beat) (heard int, mean Value) {
	var n, sum, squares [2]float64
	for _, b := range beats {
		if b.Heard {
			n[b.Side]++
			sum[b.Side] += b.Level
		}
	}
	var at [2]float64
	for s := range at {
		at[s] = sum[s] / n[s]
	}
	for _, b := range beats {
		if b.Heard {
			d := b.Level - at[b.Side]
			squares[b.Side] += d * d
		}
	}
	sides, variance := 0., 0.
	for s := range at {
		if n[s] == 0 {
			continue
		}
		sides++
		mean.X += at[s]
		scatter := squares[s] / (n[s] - 1)
		if n[s] == 1 { // it is taken to scatter as the other side does
			scatter = squares[1-s] / max(0, n[1-s]-1)
		}
		variance += scatter / n[s]
	}
	return int(n[0] + n[1]), Value{mean.X / sides, math.Sqrt(variance) / sides}
}
