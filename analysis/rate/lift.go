package rate

import (
	"math"

	"rundown/analysis/contacts"
	"rundown/analysis/drift"
	"rundown/dsp/stats"
)

// Mark is what the times of the beats from one on stand for.
type Mark struct {
	Beat    int64            // number of the first of them
	From    float64          // its true time, s
	Reading contacts.Reading // of the sounds by which they were found
}

// applyMarks fills in what the marks say of the windows: the lift time, and what they
// leave uncertain of period and beat error.
func applyMarks(ws []Window, marks []Mark) {
	levels, growths := levelSlopes(ws), unevenGrowths(ws)
	usual := usualLevel(ws)
	before := Value{math.NaN(), math.NaN()} // by how much the lift was contradicted in the last window
	for i := range ws {
		w := &ws[i]
		w.Lift, w.longer = Value{math.NaN(), math.NaN()}, Value{math.NaN(), math.NaN()}
		w.LiftDrift, w.LeastDrift = math.NaN(), math.NaN()
		if math.IsNaN(w.Period.X) {
			continue
		}
		r := markAt(marks, w.middle())
		if r == nil {
			continue
		}
		if !r.Told() {
			drift := math.Hypot(untoldDrift(levels[i]), growths[i]) * anywhere * usualLift(w.Period.X) * longer(usual-w.Level.X)
			w.widen(drift)
			w.common = math.Sqrt2 * anywhere * usualLift(w.Period.X)
			w.BeatError.SE = math.Hypot(w.BeatError.SE, w.common)
			continue
		}
		w.Lift, w.grown = meanLift(&r.Lift, w)
		w.LiftDrift, w.LeastDrift = r.DriftSE(w.middle())
		if w.longer = contradicted(w); !math.IsNaN(w.longer.X) {
			by := plainGrowth(before, w.longer)
			w.drifts(r.MidMoves(by))
			w.Lift.SE = math.Hypot(w.Lift.SE, by)
			before = w.longer
		}
		if w.oneSided {
			w.drifts(oneSided(w, w, &r.Lift))
		}
		w.widen(w.LiftDrift)
		w.common = r.UnevenSE()
		w.BeatError.SE = math.Hypot(w.BeatError.SE, w.common)
	}
}

// widen takes the error, relative, that the marks leave to the period into its own.
func (w *Window) widen(drift float64) {
	by := w.Period.X * drift
	w.Period.SE = math.Hypot(w.Period.SE, by)
	if w.Period.SE > 0 {
		w.marked = math.Min(by/w.Period.SE, 1)
	}
}

// drifts takes in that the marks may have moved against mid-lift, by so many seconds from
// the first beat to the last.
func (w *Window) drifts(by float64) {
	by /= w.end - w.begin
	w.LiftDrift, w.LeastDrift = math.Hypot(w.LiftDrift, by), math.Hypot(w.LeastDrift, by)
}

// contradicted returns by how much the lift should be longer than was told by a window's
// beat error, which grows with it, s; NaN where that does not tell. Where it grows from
// window to window, the lift is followed badly.
func contradicted(w *Window) Value {
	const least = 0.02 // a movement as well in beat tells nothing of its lift
	mean := (w.expected[0] + w.expected[1]) / 2
	if w.oneSided || math.IsNaN(mean) || math.IsNaN(w.BeatError.X) || math.Abs(w.share) < least {
		return Value{math.NaN(), math.NaN()}
	}
	return Value{(w.BeatError.X - mean) / w.share, w.BeatError.SE / math.Abs(w.share)}
}

// plainGrowth returns by how much a value grew from one to the other, 0 where that is not
// plain.
func plainGrowth(from, to Value) float64 {
	if by := to.X - from.X; math.Abs(by) > plainBend*math.Hypot(from.SE, to.SE) {
		return by
	}
	return 0
}

// outOfBeat is by what part of the interval between beats a movement may be out of beat:
// its beat error over that (common practice).
const outOfBeat = 0.02

// oneSided is the standard error that a beat error which is not heard leaves to how far the
// beats of one side moved from the begin of a window to the end of another, s: by how much a
// balance is out of beat grows against an amplitude that falls, with the lift.
func oneSided(from, to *Window, lift *contacts.Course) float64 {
	if grown := to.expected[1] - from.expected[0]; !math.IsNaN(grown) {
		return to.off / 2 * math.Abs(grown)
	}
	a, _ := lift.Lift(from.begin)
	b, _ := lift.Lift(to.end)
	return outOfBeat * to.Period.X / 2 / 2 * math.Abs(b/a-1)
}

// meanLift returns the mean lift over the beats of a window, by Simpson's rule over some
// parts of it, and its variance, s²: a lift that grows ever faster before a stop is longer
// in the mean than in the middle.
func meanLift(c *contacts.Course, w *Window) (mean Value, variance float64) {
	const parts = 8
	var sum, squares, errors float64
	for i := range parts + 1 {
		weight := 2 + 2*float64(i%2)
		if i == 0 || i == parts {
			weight = 1
		}
		weight /= 3 * parts
		lift, se := c.Lift(w.begin + (w.end-w.begin)*float64(i)/parts)
		sum += weight * lift
		squares += weight * lift * lift
		errors += weight * se
	}
	return Value{sum, errors}, math.Max(0, squares-sum*sum)
}

// markAt returns the reading that holds at a time, nil where there is none.
func markAt(marks []Mark, at float64) *contacts.Reading {
	var r *contacts.Reading
	for i := range marks {
		if i == 0 || marks[i].From <= at {
			r = &marks[i].Reading
		}
	}
	return r
}

// Where the lift was not told, its size is taken for a usual one, as a part of
// the period, and the mark for any instant in it: a uniform distribution has a
// standard deviation of a twelfth's root. The beats of both sides may then be
// marked by different sounds (common practice: a balance of 200 to 320° and
// 38 to 54° takes 0.02 to 0.045 of its period through its lift, a pendulum of 2 to 4°
// and 0.5 to 1.5°, 0.02 to 0.12).
const (
	usualBalance  = 0.035
	usualPendulum = 0.06
	anywhere      = 0.29
)

// usualLift returns the usual lift time of an oscillator of a period, both in seconds.
func usualLift(period float64) float64 {
	if period < contacts.SlowestBalance {
		return usualBalance * period
	}
	return usualPendulum * period
}

// perDB is the relative change of amplitude that a decibel is.
const perDB = math.Ln10 / 20

// untoldDrift is by what part of itself the lift grows in a second where it was not told and
// the level of the beats changes by the given dB a second: loudness goes with amplitude, and
// the lift time against it.
func untoldDrift(level Value) float64 {
	if math.IsNaN(level.X) {
		return math.NaN()
	}
	return perDB * math.Hypot(level.X, level.SE)
}

// longer returns by what factor a lift is longer where beats are quieter by so many dB; 1
// where that is not known.
func longer(quieter float64) float64 {
	if math.IsNaN(quieter) {
		return 1
	}
	return math.Exp(perDB * quieter)
}

// usualLevel is the median level of the windows, dB; NaN where none has one.
func usualLevel(ws []Window) float64 {
	var levels []float64
	for i := range ws {
		if valid(ws[i].Level) {
			levels = append(levels, ws[i].Level.X)
		}
	}
	if len(levels) == 0 {
		return math.NaN()
	}
	return stats.Median(levels)
}

// unevenGrowths returns by what part of itself the beat error grows in a second in each
// window, by those about it, 0 where that is not plain: the lift grows as it does.
func unevenGrowths(ws []Window) []float64 {
	out := make([]float64, len(ws))
	for i := range ws {
		a, b := max(0, i-1), min(i+1, len(ws)-1)
		for !valid(ws[a].BeatError) && a < i {
			a++
		}
		for !valid(ws[b].BeatError) && b > i {
			b--
		}
		if valid(ws[i].BeatError) && ws[i].BeatError.X != 0 && a < b {
			out[i] = math.Abs(plainGrowth(ws[a].BeatError, ws[b].BeatError) / ws[i].BeatError.X / (ws[b].middle() - ws[a].middle()))
		}
	}
	return out
}

// levelSlopes returns by how many dB a second the level of the beats changes in
// each window, smoothed over the run.
func levelSlopes(ws []Window) []Value {
	out := make([]Value, len(ws))
	var obs []drift.Observation
	var at []int
	for i := range ws {
		out[i] = Value{math.NaN(), math.NaN()}
		if l := ws[i].Level; valid(l) && l.SE > 0 {
			obs = append(obs, drift.Observation{Time: ws[i].middle(), Value: l.X, SE: l.SE})
			at = append(at, i)
		}
	}
	for k, e := range drift.Smooth(obs, calm) {
		out[at[k]] = Value{e.Slope, e.SlopeSE}
	}
	return out
}

// calm is the time over which a level may bend at the least, s.
const calm = 40

// ShortLift tells of windows whose lift time is too short for the lift angle:
// no oscillator swings so far as they would have it. Either the lift angle is
// wrong, or the first or the last sound of the beats was not heard.
type ShortLift struct {
	Windows int // whose lift time is too short
	All     int // with a lift time
	// Time is the median lift time of such windows, s, and Amplitude that of
	// the amplitudes that would follow, degrees; 0 without such windows.
	Time, Amplitude float64
}

// amplitudes fills in the amplitude of every window and returns what it is:
// degrees where liftAngle, in degrees, is not 0 and the lift times were
// measured, and long enough for an amplitude below that of knocking, in at least half of
// the windows with a period; else the lift time where it was measured in half
// of them; else the level. Where it is in degrees, a window whose lift time is
// too short has none.
//
// The amplitude in degrees is (liftAngle/2) / sin(π t / T) for a lift time t
// and a period T, of a free balance that crosses its rest position in
// mid-lift.
func amplitudes(ws []Window, liftAngle float64) (AmplitudeKind, ShortLift) {
	times := make([]Value, len(ws))
	for i := range ws {
		times[i] = ws[i].Lift
	}
	angles, short := swings(ws, times, liftAngle)
	n := 0
	for i := range ws {
		if !math.IsNaN(ws[i].Period.X) {
			n++
		}
	}
	kind := Level
	if n > 0 && 2*short.All >= n {
		kind = LiftTime
		if liftAngle > 0 && 2*(short.All-short.Windows) >= n {
			kind = Degrees
		}
	}
	for i := range ws {
		w := &ws[i]
		switch kind {
		case Degrees:
			w.Amplitude = angles[i]
		case LiftTime:
			w.Amplitude = times[i]
		case Level:
			w.Amplitude = w.Level
		}
	}
	return kind, short
}

// swings returns the amplitude of every window in degrees, NaN where it is not
// known or not to be believed.
func swings(ws []Window, times []Value, liftAngle float64) ([]Value, ShortLift) {
	angles := make([]Value, len(ws))
	var short ShortLift
	var far, brief []float64
	for i := range ws {
		angles[i] = degrees(times[i], ws[i].grown, ws[i].Period.X, liftAngle)
		if !valid(times[i]) || math.IsNaN(ws[i].Period.X) {
			continue
		}
		short.All++
		if a := angles[i].X; a > contacts.Knocks(liftAngle) {
			angles[i] = Value{math.NaN(), math.NaN()}
			far, brief = append(far, a), append(brief, times[i].X)
		}
	}
	if short.Windows = len(far); short.Windows > 0 {
		short.Time, short.Amplitude = stats.Median(brief), stats.Median(far)
	}
	return angles, short
}

// degrees turns a mean lift time into a mean amplitude; NaN where a lift of that time
// does not fit into the period. Where the lift grows, by the given variance, the mean
// amplitude is more than that of the mean lift: to second order, by half the variance
// times the second derivative.
func degrees(lift Value, variance, period, liftAngle float64) Value {
	phase := math.Pi * lift.X / period
	if !(phase > 0 && phase < math.Pi/2) {
		return Value{math.NaN(), math.NaN()}
	}
	a, cot, unit := liftAngle/2/math.Sin(phase), 1/math.Tan(phase), math.Pi/period
	return Value{a * (1 + (0.5+cot*cot)*unit*unit*variance), a * cot * unit * lift.SE}
}
