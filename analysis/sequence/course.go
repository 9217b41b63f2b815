package sequence

import "math"

// course is what is known at one beat, as a Gaussian: of the phase, 0, its
// change per beat, 1, and the change of that per beat, 2; of how much ticks come
// earlier and tocks later than the phase, 3, and the change of that per beat, 4.
// The figures 2 and 4 wander as random walks, which makes the most likely course
// of the phase a quintic smoothing spline, and that of the beat error a cubic one
// (G. Wahba, JRSS B 40, 1978): rate and beat error that change steadily, as in a
// run-down, cost it nothing.
type course struct {
	x0, x1, x2, x3, x4      float64
	p00, p01, p02, p03, p04 float64
	p11, p12, p13, p14      float64
	p22, p23, p24           float64
	p33, p34                float64
	p44                     float64
}

// nothing is a course of which next to nothing is known, in units of the scatter.
var nothing = course{p00: 1e9, p11: 1e6, p22: 1e2, p33: 1e9, p44: 1e4}

// wander is the variance that figures 2, 4 and 0 gain a beat.
type wander struct{ phase, sides, walk float64 }

// move carries a course d beats on, or back where d is negative.
func (c *course) move(d float64, q wander) {
	h := d * d / 2
	c.x0 += d*c.x1 + h*c.x2
	c.x1 += d * c.x2
	c.x3 += d * c.x4
	r01 := c.p01 + d*c.p11 + h*c.p12
	r02 := c.p02 + d*c.p12 + h*c.p22
	r12 := c.p12 + d*c.p22
	c.p00 += d*c.p01 + h*c.p02 + d*r01 + h*r02
	c.p01 = r01 + d*r02
	c.p02 = r02
	c.p11 += d*c.p12 + d*r12
	c.p12 = r12
	c.p04 += d*c.p14 + h*c.p24
	c.p14 += d * c.p24
	c.p03 += d*c.p13 + h*c.p23 + d*c.p04
	c.p13 += d*c.p23 + d*c.p14
	c.p23 += d * c.p24
	c.p33 += d * (2*c.p34 + d*c.p44)
	c.p34 += d * c.p44
	if d < 0 {
		q.phase, q.sides, q.walk = -q.phase, -q.sides, -q.walk
	}
	a := q.phase * d
	c.p00 += a*h*h/5 + q.walk*d
	c.p01 += a * h * d / 4
	c.p02 += a * h / 3
	c.p11 += a * h * 2 / 3
	c.p12 += a * d / 2
	c.p22 += a
	b := q.sides * d
	c.p33 += b * h * 2 / 3
	c.p34 += b * d / 2
	c.p44 += b
}

// ahead returns by how much y, the phase observed on a side (-1 or 1), exceeds
// what is expected, and the variance of that without y's own.
func (c *course) ahead(y, side float64) (by, variance float64) {
	return y - c.x0 - side*c.x3, c.p00 + 2*side*c.p03 + c.p33
}

// see takes in that the phase was observed to be y on a side, with an error of
// variance v.
func (c *course) see(y, side, v float64) {
	h0, h1, h2, h3, h4 := c.p00+side*c.p03, c.p01+side*c.p13, c.p02+side*c.p23, c.p03+side*c.p33, c.p04+side*c.p34
	w := 1 / (h0 + side*h3 + v)
	e := (y - c.x0 - side*c.x3) * w
	c.x0 += h0 * e
	c.x1 += h1 * e
	c.x2 += h2 * e
	c.x3 += h3 * e
	c.x4 += h4 * e
	g0, g1, g2, g3 := h0*w, h1*w, h2*w, h3*w
	c.p00 -= g0 * h0
	c.p01 -= g0 * h1
	c.p02 -= g0 * h2
	c.p03 -= g0 * h3
	c.p04 -= g0 * h4
	c.p11 -= g1 * h1
	c.p12 -= g1 * h2
	c.p13 -= g1 * h3
	c.p14 -= g1 * h4
	c.p22 -= g2 * h2
	c.p23 -= g2 * h3
	c.p24 -= g2 * h4
	c.p33 -= g3 * h3
	c.p34 -= g3 * h4
	c.p44 -= h4 * h4 * w
}

// jump compares what is known from before and from after: by how much the phase
// leaps, if nothing else does, and the variance of that. It is the shock test of
// P. de Jong and J. Penzer, JASA 93, 1998, from two filters that meet.
func jump(a, b *course) (size, variance float64) {
	s00, s01, s02, s03, s04 := a.p00+b.p00, a.p01+b.p01, a.p02+b.p02, a.p03+b.p03, a.p04+b.p04
	s11, s12, s13, s14 := a.p11+b.p11, a.p12+b.p12, a.p13+b.p13, a.p14+b.p14
	s23, s24, s33, s34 := a.p23+b.p23, a.p24+b.p24, a.p33+b.p33, a.p34+b.p34
	d0, d1, d3, d4 := b.x0-a.x0, b.x1-a.x1, b.x3-a.x3, b.x4-a.x4
	// The figures other than the phase are eliminated one by one.
	w := 1 / (a.p22 + b.p22)
	d2 := (b.x2 - a.x2) * w
	f0, f1, f3, f4 := s02*w, s12*w, s23*w, s24*w
	d0, d1, d3, d4 = d0-s02*d2, d1-s12*d2, d3-s23*d2, d4-s24*d2
	s00, s01, s03, s04 = s00-f0*s02, s01-f0*s12, s03-f0*s23, s04-f0*s24
	s11, s13, s14 = s11-f1*s12, s13-f1*s23, s14-f1*s24
	s33, s34 = s33-f3*s23, s34-f3*s24
	w = 1 / (a.p44 + b.p44 - f4*s24)
	d4 *= w
	f0, f1, f3 = s04*w, s14*w, s34*w
	d0, d1, d3 = d0-s04*d4, d1-s14*d4, d3-s34*d4
	s00, s01, s03 = s00-f0*s04, s01-f0*s14, s03-f0*s34
	s11, s13, s33 = s11-f1*s14, s13-f1*s34, s33-f3*s34
	w = 1 / s33
	d3 *= w
	f0 = s03 * w
	d0, d1 = d0-s03*d3, d1-s13*d3
	s00, s01, s11 = s00-f0*s03, s01-f0*s13, s11-s13*s13*w
	w = s01 / s11
	return d0 - w*d1, s00 - w*s01
}

// fuse returns mean and variance of the phase on a side, from what is known
// from before and from after.
func fuse(a, b *course, side float64) (phase, variance float64) {
	s, d := apartness(a, b)
	h := [5]float64{a.p00 + side*a.p03, a.p01 + side*a.p13, a.p02 + side*a.p23, a.p03 + side*a.p33, a.p04 + side*a.p34}
	phase, variance = a.x0+side*a.x3, h[0]+side*h[3]
	for i := 4; i >= 0; i-- {
		w := 1 / s[i][i]
		phase += d[i] * h[i] * w
		variance -= h[i] * h[i] * w
		for j := range i {
			f := s[i][j] * w
			d[j] -= f * d[i]
			h[j] -= f * h[i]
			for k := range j + 1 {
				s[j][k] -= f * s[i][k]
			}
		}
	}
	return phase, variance
}

// apartness returns the covariance, its lower half, of the difference between
// what is known from before and from after, and the difference.
func apartness(a, b *course) (s [5][5]float64, d [5]float64) {
	s = [5][5]float64{
		{a.p00 + b.p00},
		{a.p01 + b.p01, a.p11 + b.p11},
		{a.p02 + b.p02, a.p12 + b.p12, a.p22 + b.p22},
		{a.p03 + b.p03, a.p13 + b.p13, a.p23 + b.p23, a.p33 + b.p33},
		{a.p04 + b.p04, a.p14 + b.p14, a.p24 + b.p24, a.p34 + b.p34, a.p44 + b.p44},
	}
	return s, [5]float64{b.x0 - a.x0, b.x1 - a.x1, b.x2 - a.x2, b.x3 - a.x3, b.x4 - a.x4}
}

// apart returns the negative logarithm of the density of the difference between
// what is known from before and from after, up to a constant. A phase that is
// unknown counts for nothing.
func apart(a, b *course) float64 {
	s, d := apartness(a, b)
	square, det := 0., 1.
	for i := 4; i >= 0; i-- {
		if s[i][i] > unknown/4 {
			continue
		}
		w := 1 / s[i][i]
		square += d[i] * d[i] * w
		det *= s[i][i]
		for j := range i {
			f := s[i][j] * w
			d[j] -= f * d[i]
			for k := range j + 1 {
				s[j][k] -= f * s[i][k]
			}
		}
	}
	return (square + math.Log(det)) / 2
}
