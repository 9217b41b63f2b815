package calibrate

import (
	"math"
	"slices"

	"rundown/analysis/rate"
)

// Curve is the course of a recorder's clock against true time.
type Curve struct {
	sampleRate float64
	s          *smoother
	base       float64   // part of the error that was taken out, s per s
	step, unit float64   // of the smoother's scale, s
	x          []float64 // error of the clock at each knot, s, breaks taken out and 0 at frame 0
	slope      []float64 // its growth, s per s
	end        float64   // of the recording, recorder's time, s
}

// mostKnots bounds the knots with marks; marks are averaged to that.
const mostKnots = 1 << 14

// NewCurve returns the course of the clock that a series of marks gives. It
// bridges times without marks by the course before and after them, and goes on
// straight at the ends. It panics where the series was not found credible by
// Listen.
func NewCurve(s *Series) *Curve {
	marks, sigma := s.clean()
	per := math.Ceil(max(8, float64(len(marks))/mostKnots) * max(s.per, 1))
	if len(marks) < 800 {
		per = max(s.per, 1)
	}
	marks = merge(nil, marks, per)
	if len(marks) < 3 {
		panic("calibrate: no curve through fewer than three marks")
	}
	c := &Curve{
		sampleRate: s.SampleRate, base: s.slope(), end: float64(s.Frames) / s.SampleRate,
		step: per * s.period(), unit: max(sigma, 1e-9),
	}
	c.s = newSmoother(c.knots(marks))
	c.integrate()
	return c
}

// knots puts the marks into the smoother's units, about the place of their own
// stretch, with further knots where there are none: at the ends and in gaps.
func (c *Curve) knots(marks []mark) []knot {
	apart := max(30, 4*c.step)
	var out []knot
	fill := func(upto float64) {
		from := 0.0
		if len(out) > 0 {
			from = out[len(out)-1].t * c.step
		} else if upto > 0 {
			out = append(out, knot{})
		}
		n := math.Floor((upto - from) / apart)
		for i := 1.0; i < n; i++ {
			out = append(out, knot{t: (from + (upto-from)*i/n) / c.step})
		}
	}
	stretches(marks, func(ms []mark) {
		off := make([]float64, len(ms))
		for i, m := range ms {
			off[i] = m.x - c.base*m.t
		}
		sorted := slices.Clone(off)
		slices.Sort(sorted)
		place := median(sorted)
		for i, m := range ms {
			fill(m.t)
			out = append(out, knot{t: m.t / c.step, x: (off[i] - place) / c.unit, weight: m.n, fresh: i == 0 && len(out) > 1})
		}
	})
	// The first mark is no break; before it there is nothing.
	for i := range out {
		if out[i].weight > 0 {
			out[i].fresh = false
			break
		}
	}
	fill(c.end)
	if last := out[len(out)-1]; last.t*c.step < c.end {
		out = append(out, knot{t: c.end / c.step})
	}
	return out
}

// integrate takes the jumps at breaks out of the course.
func (c *Curve) integrate() {
	ks := c.s.knots
	c.x, c.slope = make([]float64, len(ks)), make([]float64, len(ks))
	x := 0.0
	for i, g := range c.s.smooth {
		c.slope[i] = c.base + g.Slope*c.unit/c.step
		if i > 0 {
			rise, _ := c.s.rise(i-1, i)
			x += rise*c.unit + c.base*(ks[i].t-ks[i-1].t)*c.step
		}
		c.x[i] = x
	}
}

// Seconds returns the true time since frame 0 at a frame, which may be
// fractional. It may be called from several goroutines.
func (c *Curve) Seconds(frame float64) float64 {
	t := frame / c.sampleRate
	ks := c.s.knots
	i := min(c.s.index(t/c.step), len(ks)-2)
	t0, h := ks[i].t*c.step, (ks[i+1].t-ks[i].t)*c.step
	u := (t - t0) / h
	switch {
	case u < 0:
		return t - (c.x[0] + c.slope[0]*(t-t0))
	case u > 1:
		return t - (c.x[i+1] + c.slope[i+1]*(t-t0-h))
	}
	// The cubic that has the knots' values and slopes.
	v := 1 - u
	x := v*v*(1+2*u)*c.x[i] + u*u*(1+2*v)*c.x[i+1] + h*u*v*(v*c.slope[i]-u*c.slope[i+1])
	return t - x
}

// Mean returns the mean error of the clock between two true times, in seconds
// since frame 0, in ppm.
func (c *Curve) Mean(from, to float64) rate.Value {
	ks := c.s.knots
	// To the knots next to them: true and recorder's time differ by less than
	// the knots lie apart.
	a := min(c.s.index(from/c.step), len(ks)-2)
	b := min(max(c.s.index(to/c.step), a+1), len(ks)-1)
	if b < len(ks)-1 && to/c.step-ks[b].t > ks[b+1].t-to/c.step {
		b++
	}
	span := (ks[b].t - ks[a].t) * c.step
	rise, variance := c.s.rise(a, b)
	slope := c.base + rise*c.unit/span
	return rate.Value{X: 1e6 * slope / (1 - slope), SE: 1e6 * math.Sqrt(variance) * c.unit / span}
}

// At returns the error of the clock at a true time in seconds since frame 0, in
// ppm.
func (c *Curve) At(at float64) float64 {
	i := c.s.index(at / c.step)
	j := min(i+1, len(c.slope)-1)
	slope := c.slope[i]
	if ks := c.s.knots; j > i {
		u := min(max((at/c.step-ks[i].t)/(ks[j].t-ks[i].t), 0), 1)
		slope += u * (c.slope[j] - c.slope[i])
	}
	return 1e6 * slope / (1 - slope)
}
