package contacts

import "sort"

// Course is a lift time over a run: Times in frames, Lift in seconds, by block.
type Course struct {
	Times   []float64
	Lift    []float64 // s
	LiftSE  []float64 // of its change from block to block, s
	Slope   []float64 // s a frame
	SlopeSE []float64
	ScaleSE float64 // of all of it together, relative
}

func (r *reader) course(lift float64) Course {
	c := Course{ScaleSE: 0.05e-3 * r.rate / lift}
	for k, g := range r.scale {
		c.Times = append(c.Times, r.time(k))
		c.Lift = append(c.Lift, g*lift/r.rate)
		c.LiftSE = append(c.LiftSE, r.scaled[k]*lift/r.rate)
	}
	return c
}

// At returns the lift time at a frame, seconds: between blocks in proportion,
// beyond the ends as at the end.
func (c *Course) At(frame float64) float64 { return between(c.Times, c.Lift, frame) }

func between(t, y []float64, at float64) float64 {
	i := sort.SearchFloat64s(t, at)
	if i == 0 {
		return y[0]
	}
	if i == len(t) {
		return y[i-1]
	}
	u := (at - t[i-1]) / (t[i] - t[i-1])
	return y[i-1]*(1-u) + y[i]*u
}
