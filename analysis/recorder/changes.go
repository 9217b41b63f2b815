package recorder

import (
	"math"
	"slices"
)

// Change is a step of a level that lasts.
type Change struct {
	At int     // index of the first value after it
	By float64 // dB, above 0 where it rose
}

const (
	// leastChange is from how many decibels on a step is told.
	leastChange = 6
	// reach is how many values before and after a step are compared, by their
	// medians, and stride at how many places in between one is looked for.
	reach  = 20
	stride = 5
)

// Changes returns the steps of more than 6 dB in a series of levels in dB. Where
// floor is not nil, only what stands out of it on one side at least is one.
func Changes(x, floor []float64) []Change {
	var out []Change
	s := steps{x: x, floor: floor}
	for i := stride; i+stride <= len(x); i += stride {
		c := Change{i, s.at(i)}
		if math.Abs(c.By) <= leastChange {
			continue
		}
		c = s.place(c)
		if n := len(out); n == 0 || c.At-out[n-1].At > reach/2 || c.By*out[n-1].By < 0 {
			out = append(out, c)
		} else if math.Abs(c.By) > math.Abs(out[n-1].By) {
			out[n-1] = c
		}
	}
	return out
}

// steps finds steps in a series.
type steps struct {
	x, floor      []float64
	before, after []float64 // of the place looked at last, sorted
}

// at returns by how much the values from i on lie above those before.
func (s *steps) at(i int) float64 {
	from, to := max(0, i-reach), min(len(s.x), i+reach)
	if i-from < reach/2 || to-i < reach/2 {
		return 0
	}
	least := math.Inf(-1)
	if s.floor != nil {
		least = max(s.median(s.floor[from:i]), s.median(s.floor[i:to]))
	}
	before := s.median(s.x[from:i])
	s.before, s.after = s.after, s.before
	return max(s.median(s.x[i:to]), least) - max(before, least)
}

// median leaves the values sorted in after.
func (s *steps) median(x []float64) float64 {
	s.after = append(s.after[:0], x...)
	slices.Sort(s.after)
	return s.after[len(s.after)/2]
}

// place moves a step to where it fits best: the values then lie nearest to the
// medians on either side.
func (s *steps) place(c Change) Change {
	best := c
	least := math.Inf(1)
	for i := max(1, c.At-reach); i < min(len(s.x), c.At+reach); i++ {
		by := s.at(i)
		if math.Abs(by) <= leastChange {
			continue
		}
		a, b := s.before[len(s.before)/2], s.after[len(s.after)/2]
		misfit := 0.0
		for j := max(0, c.At-2*reach); j < min(len(s.x), c.At+2*reach); j++ {
			if j < i {
				misfit += math.Abs(s.x[j] - a)
			} else {
				misfit += math.Abs(s.x[j] - b)
			}
		}
		if misfit < least {
			best, least = Change{i, by}, misfit
		}
	}
	return best
}

// Decibels returns a series of powers in dB, none below a floor.
func Decibels(n int, power func(i int) float64, floor float64) []float64 {
	out := make([]float64, n)
	for i := range out {
		out[i] = 10 * math.Log10(max(power(i), floor))
	}
	return out
}

// What is fainter than these powers does no harm: an offset of a thousandth of full
// scale, hum of a ten-thousandth.
const (
	leastOffset = 1e-6
	leastHum    = 1e-8
)

// Offsets returns the steps of the offset: of its median, since slow rumble moves the
// mean of a second.
func Offsets(levels []Level) []Change {
	n := len(levels)
	middle := make([]float64, n)
	var near []float64
	for i := range levels {
		near = near[:0]
		for _, l := range levels[max(0, i-reach/2):min(n, i+reach/2+1)] {
			near = append(near, float64(l.Offset))
		}
		slices.Sort(near)
		middle[i] = near[len(near)/2]
	}
	// A median's standard error is 1.25 times that of a mean, and 0.6745 standard
	// deviations are the median magnitude.
	const clear = 5 * 1.25 / 0.6745
	offset := Decibels(n, func(i int) float64 { return middle[i] * middle[i] }, leastOffset)
	floor := Decibels(n, func(i int) float64 {
		d := clear * (float64(levels[i].Offset) - middle[i])
		return d * d / reach
	}, leastOffset)
	return Changes(offset, floor)
}

// Rooms returns the steps of what is quiet.
func Rooms(levels []Level) []Change {
	const digital = 1e-12 // a hundredth of the least that 16 bits hold
	return Changes(Decibels(len(levels), func(i int) float64 { return float64(levels[i].Quiet) }, digital), nil)
}

// Hums returns the steps of the hum of the mains, of the frequency that they are most
// of, in hertz: only what stands out of the noise about it.
func Hums(levels []Level) (all []Change, hz float64) {
	var sum [2]float64
	for _, l := range levels {
		for k := range sum {
			sum[k] += max(0, float64(l.Hum[k])-float64(l.Floor[k]))
		}
	}
	k := 0
	if sum[1] > sum[0] {
		k = 1
	}
	hum := Decibels(len(levels), func(i int) float64 { return float64(levels[i].Hum[k]) - float64(levels[i].Floor[k]) }, leastHum)
	floor := Decibels(len(levels), func(i int) float64 { return float64(levels[i].Floor[k]) }, leastHum)
	return Changes(hum, floor), mains[k]
}
