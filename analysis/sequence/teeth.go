package sequence

import (
	"math"

	"gonum.org/v1/gonum/mat"
)

// Turn is what comes round with the escape wheel without losing time, over a part
// of a run.
type Turn struct {
	From   int64     // Index of the first beat of the part
	Origin int64     // Index of a beat at place 0 of the turn
	Shape  []float64 // by how much the beats at each place of the turn come late, s
	// Cov is the covariance of Shape, s². At a tooth at which the movement hesitates
	// in every turn, unevenness that is a saw looks like the time lost there: along
	// that, the errors are as large as unevenness commonly is on this wheel.
	Cov *mat.SymDense
}

// Place returns at which place of the turn the beat of an index is, before Origin as
// well as after.
func (t *Turn) Place(index int64) int {
	turn := int64(len(t.Shape))
	return int(((index-t.Origin)%turn + turn) % turn)
}

// fitTeeth finds the unevenness of the teeth together with the course and the sizes
// of all steps of the story: generalised least squares by a Kalman filter that is
// augmented with a column for each place of the turn (P. de Jong, Annals of
// Statistics 19, 1991), and a Gaussian prior for the teeth, each on its own, as wide
// as is likeliest (empirical Bayes).
func (l *line) fitTeeth() {
	p := int(l.period)
	normal, right := l.augmented(p)
	var eigen mat.EigenSym
	if !eigen.Factorize(normal, true) {
		return
	}
	var u mat.Dense
	eigen.VectorsTo(&u)
	values := eigen.Values(nil)
	var b mat.VecDense
	b.MulVec(u.T(), right)
	tau := uneven(values, b.RawVector().Data)
	scaled := mat.NewDense(p, p, nil)
	mean := mat.NewVecDense(p, nil)
	for k, v := range values {
		variance := 1 / (math.Max(v, 0) + 1/tau)
		mean.SetVec(k, variance*b.AtVec(k))
		for i := range p {
			scaled.Set(i, k, u.At(i, k)*math.Sqrt(variance))
		}
	}
	var shape mat.VecDense
	shape.MulVec(&u, mean)
	l.cov = mat.NewSymDense(p, nil)
	l.cov.SymOuterK(1, scaled)
	l.shape = shape.RawVector().Data
	for j := range l.teeth {
		l.teeth[j] = l.shape[l.index[j]%l.period]
		l.y[j] = l.raw[j] - l.teeth[j]
	}
	l.sweep(0, len(l.y)-1)
}

// augmented returns the normal equations of the teeth of a turn of p beats, the
// course and the sizes of the steps taken out.
func (l *line) augmented(p int) (normal *mat.SymDense, right *mat.VecDense) {
	sums := make([]float64, p*p)
	right = mat.NewVecDense(p, nil)
	columns := make([]course, p) // of each, the means alone
	e := make([]float64, p)
	c := nothing
	c.x0 = l.raw[0]
	for j := range l.raw {
		if j > 0 {
			c.move(l.gap[j], l.q[j])
			for k := range columns {
				columns[k].drift(l.gap[j])
			}
		}
		if l.step[j] {
			c.p00 += unknown
		}
		if l.out[j] {
			continue
		}
		by, variance := c.ahead(l.raw[j], l.sign[j])
		w := 1 / (variance + l.v[j])
		gain := c.gain(l.sign[j], l.v[j])
		here := int(l.index[j] % l.period)
		for k := range columns {
			e[k] = -columns[k].x0 - l.sign[j]*columns[k].x3
			if k == here {
				e[k]++
			}
			columns[k].correct(&gain, e[k])
			right.SetVec(k, right.AtVec(k)+w*e[k]*by)
			for m, x := range e[:k+1] {
				sums[k*p+m] += w * e[k] * x
			}
		}
		c.see(l.raw[j], l.sign[j], l.v[j])
	}
	normal = mat.NewSymDense(p, nil)
	for k := range p {
		for m := range k + 1 {
			normal.SetSym(k, m, sums[k*p+m])
		}
	}
	return normal, right
}

// gain returns by how much each figure moves for each unit by which a beat on a side
// comes later than expected, its own error having the variance v.
func (c *course) gain(side, v float64) [5]float64 {
	h := [5]float64{c.p00 + side*c.p03, c.p01 + side*c.p13, c.p02 + side*c.p23, c.p03 + side*c.p33, c.p04 + side*c.p34}
	w := 1 / (h[0] + side*h[3] + v)
	for i := range h {
		h[i] *= w
	}
	return h
}

// drift carries the means d beats on, and correct takes in an innovation e.
func (c *course) drift(d float64) {
	c.x0 += d * (c.x1 + d/2*c.x2)
	c.x1 += d * c.x2
	c.x3 += d * c.x4
}

func (c *course) correct(gain *[5]float64, e float64) {
	c.x0 += gain[0] * e
	c.x1 += gain[1] * e
	c.x2 += gain[2] * e
	c.x3 += gain[3] * e
	c.x4 += gain[4] * e
}

// uneven returns the likeliest variance of the teeth, from the eigenvalues of their
// normal equations and the right side in the same axes.
func uneven(values, b []float64) float64 {
	best, top := 0., math.Inf(-1)
	for log := -8.; log < 8; log += 0.1 {
		tau, likelihood := math.Exp2(2*log), 0.
		for k, v := range values {
			v = math.Max(v, 0)
			likelihood += b[k]*b[k]/(v+1/tau)/2 - math.Log1p(v*tau)/2
		}
		if likelihood > top {
			best, top = tau, likelihood
		}
	}
	return best
}

// rise returns the variance of the rise of the straight line through the teeth over
// a turn that begins at a place: a step there that comes every turn looks the same.
func rise(cov mat.Symmetric, place int) float64 {
	p := cov.SymmetricDim()
	lever, n := mat.NewVecDense(p, nil), float64(p)
	for i := range p {
		lever.SetVec((place+i)%p, 12*(float64(i)-(n-1)/2)/(n*n-1))
	}
	return mat.Inner(lever, cov, lever)
}
