package sequence

// course is what is known of the phase at one beat: mean and covariance of a
// Gaussian over the phase, its change per beat, and the change of that per beat.
// The last of them wanders as a random walk, which makes the most likely course
// a quintic smoothing spline (G. Wahba, JRSS B 40, 1978): a rate that changes
// steadily, as in a run-down, costs it nothing.
type course struct {
	x0, x1, x2    float64
	p00, p01, p02 float64
	p11, p12      float64
	p22           float64
}

// nothing is a course of which next to nothing is known, in units of the scatter.
var nothing = course{p00: 1e12, p11: 1e8, p22: 1e2}

// move carries a course d beats on, or back where d is negative, while its last
// figure gains the variance q a beat.
func (c *course) move(d, q float64) {
	h := d * d / 2
	c.x0 += d*c.x1 + h*c.x2
	c.x1 += d * c.x2
	r01 := c.p01 + d*c.p11 + h*c.p12
	r02 := c.p02 + d*c.p12 + h*c.p22
	r12 := c.p12 + d*c.p22
	c.p00 += d*c.p01 + h*c.p02 + d*r01 + h*r02
	c.p01 = r01 + d*r02
	c.p02 = r02
	c.p11 += d*c.p12 + d*r12
	c.p12 = r12
	if d < 0 {
		q = -q
	}
	q *= d
	c.p00 += q * h * h / 5
	c.p01 += q * h * d / 4
	c.p02 += q * h / 3
	c.p11 += q * h * 2 / 3
	c.p12 += q * d / 2
	c.p22 += q
}

// see takes in that the phase was observed to be y, with an error of variance v.
func (c *course) see(y, v float64) {
	w := 1 / (c.p00 + v)
	e := (y - c.x0) * w
	c.x0 += c.p00 * e
	c.x1 += c.p01 * e
	c.x2 += c.p02 * e
	c.p11 -= c.p01 * c.p01 * w
	c.p12 -= c.p01 * c.p02 * w
	c.p22 -= c.p02 * c.p02 * w
	v *= w
	c.p00 *= v
	c.p01 *= v
	c.p02 *= v
}

// jump compares what is known from before and from after: by how much the
// phase leaps, if nothing else does, and the variance of that. It is the shock
// test of P. de Jong and J. Penzer, JASA 93, 1998, by the two-filter formula.
func jump(before, after *course) (size, variance float64) {
	s11, s12, s22 := before.p11+after.p11, before.p12+after.p12, before.p22+after.p22
	s01, s02 := before.p01+after.p01, before.p02+after.p02
	d0, d1, d2 := after.x0-before.x0, after.x1-before.x1, after.x2-before.x2
	f, g := s02/s22, s12/s22
	s11 -= g * s12
	s01 -= f * s12
	d1 -= g * d2
	h := s01 / s11
	return d0 - f*d2 - h*d1, before.p00 + after.p00 - f*s02 - h*s01
}

// between returns mean and variance of the phase at a beat from what is known
// before it and after it.
func between(before, after *course) (phase, variance float64) {
	s01, s02 := before.p01+after.p01, before.p02+after.p02
	s11, s12, s22 := before.p11+after.p11, before.p12+after.p12, before.p22+after.p22
	s00 := before.p00 + after.p00
	d0, d1, d2 := after.x0-before.x0, after.x1-before.x1, after.x2-before.x2
	a0, a1, a2 := before.p00, before.p01, before.p02
	// Gaussian elimination, from the last figure to the first.
	f, g := s02/s22, s12/s22
	s00, s01, s11 = s00-f*s02, s01-f*s12, s11-g*s12
	d0, d1 = d0-f*d2, d1-g*d2
	b0, b1 := a0-f*a2, a1-g*a2
	h := s01 / s11
	s00, d0, b0 = s00-h*s01, d0-h*d1, b0-h*b1
	phase = before.x0 + a2*d2/s22 + b1*d1/s11 + b0*d0/s00
	variance = before.p00 - a2*a2/s22 - b1*b1/s11 - b0*b0/s00
	return phase, variance
}
