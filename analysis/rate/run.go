package rate

import (
	"cmp"
	"math"
	"slices"

	"rundown/analysis/contacts"
)

// Settings are what a run is measured against. Figures of 0 are not given.
type Settings struct {
	BeatsPerHour float64 // nominal, by flag
	TrainPerHour float64 // nominal, by the train
	LiftAngle    float64 // degrees
	Marks        []Mark  // what the beats' times stand for, in order of time; without any, for mid-lift, and there is no lift time
}

// Run holds the figures of a whole run. A figure that could not be had is NaN.
type Run struct {
	NominalPerHour float64 // beats per hour
	NominalSource  NominalSource
	Counted        int64 // beats, heard or not
	Heard          int64

	// Period and Rate are means over the running time, the time that jumps
	// cost left out; their errors are those of the measurement. s and s/day.
	Period, Rate Value
	First, Last  Value   // smoothed rate of the first and last window, s/day
	Spread       float64 // total width of the smoothed rate, s/day; NaN of too few windows (TooShort)
	// Lost is the time that late, early, stop and gap events cost, s. A stop
	// with no beat after it is the end of the run and costs nothing.
	Lost      float64
	BeatError Value   // mean, s
	Jitter    float64 // standard deviation of beat times about the fits, s

	AmplitudeKind AmplitudeKind
	ShortLift     ShortLift
	// Amplitude, its mean over windows, and that of the first and last window
	// that has one.
	Amplitude, FirstAmplitude, LastAmplitude float64
}

// Finish completes ws, all windows of the run, and returns the run's figures.
// It is to be called once, after Flush.
func (a *Accumulator) Finish(ws []Window, s Settings) Run {
	r := Run{
		Counted: a.counted, Heard: a.heard, Lost: a.lost,
		Period: a.period(ws), Jitter: pooled(a.scatter),
	}
	applyMarks(ws, s.Marks)
	r.Period.SE = math.Hypot(r.Period.SE, r.Period.X*meanDrift(ws, s.Marks))
	r.NominalPerHour, r.NominalSource = Nominal(s.BeatsPerHour, s.TrainPerHour, 7200/r.Period.X)
	r.Rate = Rate(r.Period, 7200/r.NominalPerHour)
	SetRates(ws, 7200/r.NominalPerHour)
	Smooth(ws)
	r.First, r.Last, r.Spread = course(ws)
	r.BeatError = beatError(ws)
	r.AmplitudeKind, r.ShortLift = amplitudes(ws, s.LiftAngle)
	r.Amplitude, r.FirstAmplitude, r.LastAmplitude = amplitudeCourse(ws)
	return r
}

// period returns the mean period over the running time; of a run too broken up
// to add running time, that of the windows.
func (a *Accumulator) period(ws []Window) Value {
	if time, variance, beats := a.tally.total(); beats > 0 {
		return Value{2 * time / float64(beats), 2 * math.Sqrt(variance) / float64(beats)}
	}
	return meanOver(ws, func(w *Window) Value { return w.Period })
}

// meanDrift is the standard error, relative, that the marks leave to the mean period,
// none where nothing is said of them: by how much mid-lift may have moved against the
// mark from the first beat to the last; where the lift was not told, or another sound
// was marked meanwhile, what the loudness says that it may have changed by.
func meanDrift(ws []Window, marks []Mark) float64 {
	var first, last *Window
	var time float64
	for i := range ws {
		if w := &ws[i]; !math.IsNaN(w.Period.X) {
			if first == nil {
				first = w
			}
			last = w
			time += w.End - w.Start
		}
	}
	if first == nil || len(marks) == 0 {
		return 0
	}
	if r := markAt(marks, first.begin); r.Told() && r == markAt(marks, last.end) {
		move := math.Hypot(r.MoveSE(first.begin, last.end), endsOneSided(ws, r))
		return math.Hypot(move, r.MidMoves(plainGrowth(first.longer, last.longer))) / time
	}
	change := math.Abs(last.Level.X-first.Level.X) + math.Hypot(first.Level.SE, last.Level.SE)
	return usualLift(last.Period.X) * anywhere * (longer(change) - 1) / time
}

// endsOneSided is the standard error of how far the beats moved from the first to the last
// that the stretches at both ends leave in which hardly more than one side is heard, s.
func endsOneSided(ws []Window, r *contacts.Reading) (se float64) {
	heard := slices.DeleteFunc(slices.Clone(ws), func(w Window) bool { return math.IsNaN(w.Period.X) })
	n := 0 // windows in a stretch at the start
	for n < len(heard) && heard[n].oneSided {
		n++
	}
	if n > 0 {
		se = oneSided(&heard[0], &heard[n-1], &r.Lift)
	}
	last := len(heard) - 1
	for n = last; n >= 0 && heard[n].oneSided; {
		n--
	}
	if n >= 0 && n < last { // else it was counted
		se = math.Hypot(se, oneSided(&heard[n+1], &heard[last], &r.Lift))
	}
	return se
}

// beatError returns the mean beat error. What the marks leave uncertain of it is
// common to all windows.
func beatError(ws []Window) Value {
	v := meanOver(ws, func(w *Window) Value { return w.BeatError })
	for i := range ws {
		if e := ws[i].common; e > 0 {
			v.SE = math.Hypot(v.SE, e)
			break
		}
	}
	return v
}

// meanOver returns the mean of a figure over all beats heard in windows that
// have it.
func meanOver(ws []Window, get func(*Window) Value) Value {
	var beats, sum, variance float64
	for i := range ws {
		if v := get(&ws[i]); valid(v) {
			n := float64(ws[i].Heard)
			beats += n
			sum += n * v.X
			variance += n * n * v.SE * v.SE
		}
	}
	return Value{sum / beats, math.Sqrt(variance) / beats}
}

// course returns the first, the last and the spread of the smoothed rates; of
// windows too few for a stable band, no spread.
func course(ws []Window) (first, last Value, spread float64) {
	nan := Value{math.NaN(), math.NaN()}
	first, last = nan, nan
	low, high := math.Inf(1), math.Inf(-1)
	for i := range ws {
		v := ws[i].Smoothed
		if math.IsNaN(v.X) {
			continue
		}
		if math.IsNaN(first.X) {
			first = v
		}
		last = v
		low, high = math.Min(low, v.X), math.Max(high, v.X)
	}
	if TooShort(ws) {
		return first, last, math.NaN()
	}
	return first, last, high - low
}

// amplitudeCourse returns the mean amplitude, and those of the first and last
// window that has one: a spring let go from full wind, or about to stand still,
// changes it too fast for a smoothed figure to be true there.
func amplitudeCourse(ws []Window) (mean, first, last float64) {
	first, last = math.NaN(), math.NaN()
	n := 0
	for i := range ws {
		if a := ws[i].Amplitude; valid(a) {
			if n == 0 {
				first = a.X
			}
			last = a.X
			mean += a.X
			n++
		}
	}
	return mean / float64(n), first, last
}

// pooled returns the jitter of a run: the median over windows, by degrees of
// freedom, so that a loud hour does not count, s.
func pooled(in []scatter) float64 {
	all := 0.
	for i, s := range in {
		// The median of χ²/ν over its mean (Wilson and Hilferty, 1931).
		low := 1 - 2/(9*s.freedom)
		in[i].variance /= low * low * low
		all += s.freedom
	}
	slices.SortFunc(in, func(a, b scatter) int { return cmp.Compare(a.variance, b.variance) })
	for _, s := range in {
		if all -= 2 * s.freedom; all <= 0 {
			return math.Sqrt(s.variance)
		}
	}
	return math.NaN()
}
