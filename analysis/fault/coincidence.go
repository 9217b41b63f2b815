package fault

import (
	"math"
	"slices"

	"gonum.org/v1/gonum/stat"
	"gonum.org/v1/gonum/stat/distuv"
)

// coincidence is the strongest concentration of events at one or two phases of
// a period.
type coincidence struct {
	logp   float64   // logarithm of the p-value, corrected for all that was looked at
	period float64   // beats
	phases []float64 // middles of the windows, beats, 0 ≤ phase < period
	window float64   // width of each, beats
	part   int       // part of the train that was tried, or -1
}

// offset is by how many beats b lies after the nearest return of a phase.
func (c coincidence) offset(b int64, phase float64) float64 {
	d := float64(b) - phase
	return d - c.period*math.Round(d/c.period)
}

// explains tells which phase an event at beat b returns at, or -1. One beat more
// than the window is allowed on either side, for an event that the detector
// has put down to a neighbouring beat.
func (c coincidence) explains(b int64) int {
	return slices.IndexFunc(c.phases, func(phase float64) bool {
		return math.Abs(c.offset(b, phase)) <= c.window/2+1
	})
}

// count is the number of beats that c explains.
func (c coincidence) count(beats []int64) int {
	n := 0
	for _, b := range beats {
		if c.explains(b) >= 0 {
			n++
		}
	}
	return n
}

// halved returns c with half its period where the two phases lie half a turn apart, as near
// as whole beats can: what comes round twice in a turn comes round in half of it.
func (c coincidence) halved() coincidence {
	if len(c.phases) == 2 && math.Abs(math.Abs(c.phases[0]-c.phases[1])-c.period/2) < 0.75 {
		odd := math.Mod(c.period, 2) / 4
		c.period /= 2
		c.phases = []float64{math.Min(c.phases[0], c.phases[1]) + odd}
	}
	return c
}

// sharpened returns c with period and phases fitted to the events at the beats
// that it explains, by the straight line of beat against turn. A period that may
// be a whole number of beats is.
func (c coincidence) sharpened(beats []int64) coincidence {
	const rounding = 0.3 // standard deviation of a whole beat about an exact instant
	var turns, offsets []float64
	for _, b := range beats {
		if i := c.explains(b); i >= 0 {
			turns = append(turns, math.Round((float64(b)-c.phases[i])/c.period))
			offsets = append(offsets, c.offset(b, c.phases[i]))
		}
	}
	if len(turns) < fewest || slices.Max(turns) == slices.Min(turns) {
		return c
	}
	shift, slope := stat.LinearRegression(turns, offsets, nil, false)
	scatter := rounding
	for i, t := range turns {
		scatter = max(scatter, math.Abs(offsets[i]-shift-slope*t))
	}
	se := scatter / math.Sqrt(stat.Variance(turns, nil)*float64(len(turns)-1))
	out := c
	out.period += slope
	if whole := math.Round(out.period); math.Abs(whole-out.period) < 2*se && se < 0.2 {
		out.period = whole
	}
	out.phases = slices.Clone(c.phases)
	middle := math.Round(stat.Mean(turns, nil))
	for i, p := range c.phases {
		at := p + shift + (c.period+slope)*middle
		out.phases[i] = at - out.period*math.Floor(at/out.period)
	}
	return out
}

// longest returns c at the longest multiple of its period that is likelier than the period
// itself, by how many of the events at the beats of a run of some length it explains: where
// windows are a fixed share of the period, the fractions of a period look like it.
func (c coincidence) longest(beats []int64, length int64) coincidence {
	const most = 12
	count := c.count(beats)
	for k := 2.0; k <= most && c.period*k*fewestTurns <= float64(length); k++ {
		for turn := range int(k) {
			d := c
			d.period *= k
			d.phases = slices.Clone(c.phases)
			for i := range d.phases {
				d.phases[i] += float64(turn) * c.period
			}
			if likelier(d.count(beats), count, k) {
				return d.longest(beats, length)
			}
		}
	}
	return c
}

// likelier reports whether so many of some events fall in one turn of k because they come
// round in k turns, and not by chance in any one of these. Of those that do come round so,
// one in twenty has another cause; and that another period than the one found is theirs is
// one in ten beforehand.
func likelier(in, of int, k float64) bool {
	const own, beforehand = 0.95, 0.1
	long, short := distuv.Binomial{N: float64(of), P: own}, distuv.Binomial{N: float64(of), P: 1 / k}
	return float64(in) > float64(of)/k && beforehand*long.Prob(float64(in)) > k*short.Prob(float64(in))
}
