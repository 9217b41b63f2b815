package rate

import (
	"math"

	"gonum.org/v1/gonum/stat/distuv"
)

// result reads the figures off the settled fit and leaves the covariance of
// the full model, unit scatter, in f.inverse.
func (f *fitter) result() (lineFit, bool) {
	freedom := f.freedom()
	if freedom < 1 {
		return lineFit{}, false
	}
	if _, ok := f.invert(f.equations()); !ok {
		return lineFit{}, false
	}
	f.factor = f.unitVariance()
	straight := f.straight()
	f.weighTeeth(&straight)
	out := lineFit{
		interval:  f.grid + dot(&straight, &f.beta)/f.span,
		variance:  f.variance(straight, 0)/(f.span*f.span) + f.teeth.variance(f.teeth.lever),
		beatError: Value{math.NaN(), math.NaN()},
		jitter:    f.jitter(),
		freedom:   freedom,
		student:   f.studentFactor(int(freedom)),
	}
	if f.active[side] {
		out.beatError = Value{f.beta[side] + f.expected, math.Sqrt(f.factor*f.inverse.At(side, side)) * out.student}
	}
	return out, true
}

// straight returns by how much each coefficient moves the slope of the straight
// line through the fitted curve at all beats of the window, those that were not heard
// too, both sides with an intercept of their own and the jumps taken out: where the
// beats heard span the window, by the slope alone.
func (f *fitter) straight() vector {
	var mean vector
	for _, z := range f.rows {
		mean = plus(mean, 1/float64(len(f.rows)), z)
	}
	var m [2]vector // products of slope and side with every column, about the mean
	for _, z := range f.rows {
		d := plus(z, -1, mean)
		m[0] = plus(m[0], d[slope], d)
		m[1] = plus(m[1], d[side], d)
	}
	var out vector
	det := m[0][slope]*m[1][side] - m[0][side]*m[1][slope]
	for k, on := range f.active {
		switch {
		case !on:
		case f.active[side]:
			out[k] = (m[0][k]*m[1][side] - m[1][k]*m[0][side]) / det
		default:
			out[k] = m[0][k] / m[0][slope]
		}
	}
	return out
}

// unitVariance returns the variance of a beat of weight 1 as it enters the
// covariance of the coefficients, s² (P. J. Huber, Robust Statistics, 1981,
// section 7.6, its correction factor near 1 left out).
func (f *fitter) unitVariance() float64 {
	var squares, slopes float64
	for i := range f.points {
		p := &f.points[i]
		if p.w == 0 {
			continue
		}
		psi, d := bisquare(p.r / (rejection * f.scale[p.side]))
		psi *= rejection
		squares += psi * psi
		slopes += d
	}
	mean := slopes / f.number()
	if mean <= 0 {
		return math.NaN()
	}
	unit := f.unit()
	return squares / f.freedom() / (mean * mean) * unit * unit
}

// jitter returns the scatter of both sides about the fit, each on its own, as
// one standard deviation in seconds.
func (f *fitter) jitter() float64 {
	n := [2]float64{}
	for _, p := range f.points {
		n[p.side]++
	}
	return math.Sqrt((n[0]*f.scale[0]*f.scale[0] + n[1]*f.scale[1]*f.scale[1]) / (n[0] + n[1]))
}

// mark returns the fitted instant of beat index in segment s, sides averaged.
// It uses the curvature, which matters at the ends of a window.
func (f *fitter) mark(s *segment, index int64) mark {
	z := f.row(index)
	return mark{beat: index, time: s.time + f.grid*float64(index-s.index) + s.a + dot(&z, &f.beta)}
}

// lever returns by how much each coefficient moves the mark of beat index in
// segment s; the segment's intercept adds 1/s.sw to the variance.
func (f *fitter) lever(s *segment, index int64) vector {
	return plus(f.row(index), -1/s.sw, s.sz)
}

// variance returns that of a sum of marks, s², from the sum of their levers
// and of the squared shares of intercepts.
func (f *fitter) variance(levers vector, intercepts float64) float64 {
	for k := range levers {
		for l := range levers {
			intercepts += levers[k] * levers[l] * f.inverse.At(k, l)
		}
	}
	return intercepts * f.factor
}

// row returns the model's row for the instant of beat index, sides averaged.
func (f *fitter) row(index int64) vector {
	z := vector{slope: float64(2*index-f.origin) / 2 / f.span}
	f.bend(&z)
	return z
}

// studentFactor returns the 97.5 % point of Student's distribution over that
// of the Gaussian.
func (f *fitter) studentFactor(freedom int) float64 {
	for len(f.student) <= freedom {
		f.student = append(f.student, 0)
	}
	if f.student[freedom] == 0 {
		f.student[freedom] = distuv.StudentsT{Sigma: 1, Nu: float64(freedom)}.Quantile(0.975) / 1.959963985
	}
	return f.student[freedom]
}
