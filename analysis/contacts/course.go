package contacts

import (
	"math"
	"sort"
)

// Course is how the lift time went over a run.
type Course struct {
	times   []float64 // of the blocks it was told from, true seconds
	lift    []float64 // s
	liftSE  []float64 // but for what all of them have in common
	slope   []float64 // of lift, s/s
	slopeSE []float64
	scaleSE float64 // what all have in common, relative
}

// course is that of the run, for a lift of so many frames at its middle. clock
// turns frames into true seconds.
func (r *reader) course(lift, liftSE float64, clock func(frame float64) float64) Course {
	c := Course{scaleSE: liftSE / lift}
	for k := range r.scale.at {
		at := r.time(k)
		second := clock(at+r.rate) - clock(at) // true seconds in a nominal one
		unit := lift / r.rate * second
		c.times = append(c.times, clock(at))
		c.lift = append(c.lift, r.scale.at[k]*unit)
		c.liftSE = append(c.liftSE, r.scale.se[k]*unit)
		c.slope = append(c.slope, r.scale.slope[k]*unit/second)
		c.slopeSE = append(c.slopeSE, r.scale.slopeSE[k]*unit/second)
	}
	return c
}

// Lift returns the lift time at a true time, both in seconds, and its standard
// error.
func (c *Course) Lift(at float64) (lift, se float64) {
	lift, se = c.own(at)
	return lift, math.Hypot(se, c.scaleSE*lift)
}

// own is Lift without the error that all of the run has in common.
func (c *Course) own(at float64) (lift, se float64) {
	return c.interpolate(c.lift, at), c.interpolate(c.liftSE, at)
}

// Slope returns by how many seconds the lift time grows in a second at a true
// time in seconds, and the standard error.
func (c *Course) Slope(at float64) (slope, se float64) {
	return c.interpolate(c.slope, at), c.interpolate(c.slopeSE, at)
}

// interpolate returns a figure at a time: between blocks in proportion, beyond the
// ends that of the end.
func (c *Course) interpolate(y []float64, at float64) float64 {
	i := sort.SearchFloat64s(c.times, at)
	if i == 0 {
		return y[0]
	}
	if i == len(y) {
		return y[i-1]
	}
	u := (at - c.times[i-1]) / (c.times[i] - c.times[i-1])
	return y[i-1]*(1-u) + y[i]*u
}
