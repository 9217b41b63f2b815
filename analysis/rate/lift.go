package rate

import (
	"math"
	"sort"

	"rundown/analysis/beat"
	"rundown/analysis/drift"
	"rundown/dsp/stats"
)

const (
	// leastLifts is the fewest lift measurements that a reference to mid-lift,
	// or a lift time for the run, can be built on.
	leastLifts = 8
	// calm is the time over which mid-lift may bend at the least, s: changes of
	// amplitude take longer, and what is faster is noise.
	calm = 40
)

// ReferToMidLift turns the period of every window from that of the beats' mark
// into that of the middle of the lift, the oscillator's passage through rest:
// period · (1 + d Mid/dt), Mid being the smoothed offset from mark to mid-lift,
// of each side as far as the period goes by it.
// The error of the correction goes into that of the period. It does nothing
// and reports false where there are too few measurements, or where they span
// less than half of the windows with a period. Rates are to be set afterwards.
func ReferToMidLift(ws []Window, lifts []beat.Lift) bool {
	m, ok := newMidLift(ws, lifts)
	if ok {
		m.refer(ws)
	}
	return ok
}

// stretched returns period · (1 + by).
func stretched(period, by Value) Value {
	return Value{period.X * (1 + by.X), math.Hypot(period.SE*(1+by.X), period.X*by.SE)}
}

// midLift is how mid-lift lies against the beats' mark over a run: its offset,
// both sides alike, and by how much more that is on the tock's side.
type midLift struct {
	offset
	uneven offset // empty where it is not known
}

// newMidLift reports false where the measurements do not suffice.
func newMidLift(ws []Window, lifts []beat.Lift) (m midLift, ok bool) {
	m.offset, ok = newOffset(ws, lifts, func(l beat.Lift) Value { return Value{l.Mid, l.MidSE} })
	if ok {
		m.uneven, _ = newOffset(ws, lifts, func(l beat.Lift) Value { return Value{l.Uneven, l.UnevenSE} })
	}
	return m, ok
}

// refer corrects the period of every window, by each side's offset as far as the
// period goes by that side.
func (m *midLift) refer(ws []Window) {
	for i := range ws {
		w := &ws[i]
		by := m.slope(w.middle())
		if len(m.uneven.obs) > 0 {
			more := m.uneven.slope(w.middle())
			by = Value{by.X + w.Lean/2*more.X, math.Hypot(by.SE, w.Lean/2*more.SE)}
		}
		w.Period = stretched(w.Period, by)
	}
}

// referPhase corrects the phase of the run.
func (m *midLift) referPhase(p *Phase) {
	for i, t := range p.Time {
		if !math.IsNaN(t) {
			p.X[i] += m.at(t, func(s *drift.Estimate) float64 { return s.Level })
		}
	}
}

// offset is a smoothed figure of the lifts over a run.
type offset struct {
	obs   []drift.Observation
	curve []drift.Estimate
}

// newOffset reports false, and returns an empty one, where the measurements
// do not suffice.
func newOffset(ws []Window, lifts []beat.Lift, figure func(beat.Lift) Value) (offset, bool) {
	var c offset
	for _, l := range lifts {
		if v := figure(l); !math.IsNaN(v.X) && v.SE > 0 {
			c.obs = append(c.obs, drift.Observation{Time: l.Time, Value: v.X, SE: v.SE})
		}
	}
	if len(c.obs) < leastLifts || !covers(ws, c.obs[0].Time, c.obs[len(c.obs)-1].Time) {
		return offset{}, false
	}
	c.curve = drift.Smooth(c.obs, calm)
	return c, true
}

// slope returns the change of the figure a second at time t in seconds.
func (c *offset) slope(t float64) Value {
	return Value{
		c.at(t, func(s *drift.Estimate) float64 { return s.Slope }),
		c.at(t, func(s *drift.Estimate) float64 { return s.SlopeSE }),
	}
}

// at returns a figure of the curve at time t in seconds: between two
// measurements in proportion, beyond the ends that of the end.
func (c *offset) at(t float64, get func(*drift.Estimate) float64) float64 {
	s := c.curve
	i := sort.Search(len(c.obs), func(i int) bool { return c.obs[i].Time > t })
	if i == 0 {
		return get(&s[0])
	}
	if i == len(s) {
		return get(&s[i-1])
	}
	u := (t - c.obs[i-1].Time) / (c.obs[i].Time - c.obs[i-1].Time)
	return get(&s[i-1])*(1-u) + get(&s[i])*u
}

// mean returns its mean over the measurements.
func (c *offset) mean() Value {
	n := len(c.obs)
	first, last := c.curve[0], c.curve[n-1]
	span := c.obs[n-1].Time - c.obs[0].Time
	return Value{(last.Level - first.Level) / span, math.Hypot(first.LevelSE, last.LevelSE) / span}
}

// covers reports that at least half of the windows with a period have their
// middle between from and to.
func covers(ws []Window, from, to float64) bool {
	n, in := 0, 0
	for i := range ws {
		if m := ws[i].middle(); !math.IsNaN(ws[i].Period.X) {
			n++
			if m >= from && m <= to {
				in++
			}
		}
	}
	return n > 0 && 2*in >= n
}

// widest is the greatest amplitude that is believed, degrees. A balance that
// swings through a full turn less half the lift angle, 334° for one of 52°,
// meets the escapement again from behind; it is heard to knock from some 330 to
// 350° on (common practice). The bound allows a lift angle that is a little too
// large. Nothing as general is known of pendulums, which stay far below it.
const widest = 350

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

// Amplitudes fills in the amplitude of every window and returns what it is:
// degrees where liftAngle, in degrees, is not 0 and the lift times were
// measured, and long enough for an amplitude of up to 350°, in at least half of
// the windows with a period; else the lift time where it was measured in half
// of them; else the level. Where it is in degrees, a window whose lift time is
// too short has none.
//
// The amplitude in degrees is (liftAngle/2) / sin(π t / T) for a lift time t
// and a period T, of a free balance that crosses its rest position in
// mid-lift.
func Amplitudes(ws []Window, lifts []beat.Lift, liftAngle float64) (AmplitudeKind, ShortLift) {
	times := liftValues(ws, lifts, func(l beat.Lift) Value { return Value{l.Duration, l.SE} })
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
		angles[i] = degrees(times[i], ws[i].Period.X, liftAngle)
		if !valid(times[i]) || math.IsNaN(ws[i].Period.X) {
			continue
		}
		short.All++
		if a := angles[i].X; a > widest {
			angles[i] = Value{math.NaN(), math.NaN()}
			far, brief = append(far, a), append(brief, times[i].X)
		}
	}
	if short.Windows = len(far); short.Windows > 0 {
		short.Time, short.Amplitude = stats.Median(brief), stats.Median(far)
	}
	return angles, short
}

// ReferBeatErrors takes the beat error of every window from the marks of the
// beats to mid-lift, where it was measured: the two sides need not be marked by
// the same sound, and then move against each other as the amplitude falls.
func ReferBeatErrors(ws []Window, lifts []beat.Lift) {
	uneven := liftValues(ws, lifts, func(l beat.Lift) Value { return Value{l.Uneven, l.UnevenSE} })
	for i, u := range uneven {
		if b := &ws[i].BeatError; valid(u) && valid(*b) {
			*b = Value{b.X + u.X, math.Hypot(b.SE, u.SE)}
		}
	}
}

// liftValues returns the mean of a figure of the lifts in each window; NaN where
// none is known.
func liftValues(ws []Window, lifts []beat.Lift, figure func(beat.Lift) Value) []Value {
	out := make([]Value, len(ws))
	next := 0
	var in []Value
	for i := range ws {
		in = in[:0]
		for ; next < len(lifts) && lifts[next].Time < ws[i].End; next++ {
			if v := figure(lifts[next]); lifts[next].Duration > 0 && v.SE > 0 {
				in = append(in, v)
			}
		}
		out[i] = weightedMean(in)
	}
	return out
}

// weightedMean returns the mean by inverse variance. Figures out of line with
// their median count for less, and where the scatter exceeds the errors given,
// so does the error of the mean.
func weightedMean(in []Value) Value {
	if len(in) == 0 {
		return Value{math.NaN(), math.NaN()}
	}
	x := make([]float64, len(in))
	for i, v := range in {
		x[i] = v.X
	}
	centre := stats.Median(x)
	for i, v := range in {
		x[i] = math.Abs(v.X-centre) / v.SE
	}
	scale := math.Max(1, 1.4826*stats.Median(x))
	var weights, sum, squares float64
	for _, v := range in {
		w := 1 / (v.SE * v.SE * inflation((v.X-centre)/v.SE/scale))
		weights += w
		sum += w * (v.X - centre)
	}
	mean := sum / weights
	for _, v := range in {
		d := v.X - centre - mean
		squares += d * d / (v.SE * v.SE * inflation((v.X-centre)/v.SE/scale))
	}
	excess := 1.
	if n := len(in); n > 1 {
		excess = math.Max(1, squares/float64(n-1))
	}
	return Value{centre + mean, math.Sqrt(excess / weights)}
}

// inflation returns by how much to inflate the variance of a figure that is out
// by u standard deviations.
func inflation(u float64) float64 {
	const tolerated = 3
	return math.Max(1, u*u/(tolerated*tolerated))
}

// degrees turns a lift time into an amplitude; NaN where a lift of that time
// does not fit into the period.
func degrees(lift Value, period, liftAngle float64) Value {
	phase := math.Pi * lift.X / period
	if !(phase > 0 && phase < math.Pi/2) {
		return Value{math.NaN(), math.NaN()}
	}
	a := liftAngle / 2 / math.Sin(phase)
	return Value{a, a / math.Tan(phase) * math.Pi / period * lift.SE}
}
