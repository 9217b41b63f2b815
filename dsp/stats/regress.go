package stats

import (
	"cmp"
	"math"
	"slices"

	"gonum.org/v1/gonum/mat"
)

// Coefficient is by how much a series grows with a column, in its unit in one of
// the column's.
type Coefficient struct {
	X     float64
	Doubt Mixture // of X
	// Inflation is by how much the variance of X is larger than it would be if the
	// column had nothing in common with the others, once what wanders is taken out
	// (D. W. Marquardt, Technometrics 12, 1970).
	Inflation float64
}

// Regression is a series as a sum of columns, each by its coefficient, and of a
// level that wanders.
type Regression struct {
	Coefficients []Coefficient
	Alike        [][]float64 // correlation of the columns, once what wanders is taken out
}

// Regress regresses a series on columns of figures at the same times, by
// generalised least squares (A. C. Aitken, Proceedings of the Royal Society of
// Edinburgh 55, 1935) in noise that wanders as in Levels: the same models, each
// weighed by its restricted likelihood (H. D. Patterson and R. Thompson,
// Biometrika 58, 1971), and each filtered from series and columns alike. Figures
// far off lose their say (P. J. Huber's weights). It returns false where the
// series is too short, or columns are constant or one and the same.
func (s *Series) Regress(columns [][]float64) (Regression, bool) {
	n, p := s.Len(), len(columns)
	if n < LeastFigures+2*p {
		return Regression{}, false
	}
	fits := s.fits(columns)
	if fits == nil {
		return Regression{}, false
	}
	best := likeliest(fits)
	top, total := best.likelihood, 0.0
	for _, f := range fits {
		f.likelihood = math.Exp(f.likelihood - top)
		total += f.likelihood
	}
	out := Regression{Coefficients: make([]Coefficient, p), Alike: best.alike()}
	var inverse mat.Dense
	alike := mat.NewDense(p, p, nil)
	for k := range columns {
		alike.SetRow(k, out.Alike[k])
	}
	singular := inverse.Inverse(alike) != nil
	for k := range columns {
		c := &out.Coefficients[k]
		for _, f := range fits {
			c.X += f.likelihood / total * f.beta[k]
		}
		for _, f := range fits {
			if w := f.likelihood / total; w > 1e-5 {
				c.Doubt = append(c.Doubt, Student{w, f.beta[k] - c.X, f.se[k], f.freedom})
			}
		}
		c.Inflation = math.Inf(1)
		if !singular {
			c.Inflation = inverse.At(k, k)
		}
	}
	return out, true
}

// fits are the regressions in noise of every model that is not out of the
// question.
func (s *Series) fits(columns [][]float64) []*weightedFit {
	const hopeless = 20 // nats short of the likeliest, of a fit without weights
	var fits []*weightedFit
	for _, m := range s.noises() {
		if f := s.fit(m, columns); f.solve(1) {
			fits = append(fits, f)
		}
	}
	if fits == nil {
		return nil
	}
	best := likeliest(fits).likelihood
	return slices.DeleteFunc(fits, func(f *weightedFit) bool { return f.likelihood < best-hopeless || !f.solve(6) })
}

func likeliest(fits []*weightedFit) *weightedFit {
	return slices.MaxFunc(fits, func(a, b *weightedFit) int { return cmp.Compare(a.likelihood, b.likelihood) })
}

// weightedFit is a regression in noise of one model.
type weightedFit struct {
	y          []float64   // freed of what wanders
	white      [][]float64 // the columns, likewise
	prior      float64     // logarithm of what is known of the model beforehand, with the variances of y
	beta, se   []float64
	freedom    float64
	likelihood float64
}

func (s *Series) fit(m noise, columns [][]float64) *weightedFit {
	vectors, logs := s.whiten(m.walk, m.bend, append([][]float64{s.Y}, columns...))
	return &weightedFit{y: vectors[0], white: vectors[1:], prior: math.Log(m.prior) - logs/2, freedom: float64(len(vectors[0]) - len(columns))}
}

// solve finds the coefficients, with weights that are found anew in each of so
// many passes, and reports whether they can be told.
func (f *weightedFit) solve(passes int) bool {
	n, p := len(f.y), len(f.white)
	w, r := slices.Repeat([]float64{1}, n), make([]float64, n)
	var scale, det float64
	var inverse mat.Dense
	const far = 2
	for range passes {
		a, b := mat.NewDense(p, p, nil), mat.NewVecDense(p, nil)
		for k := range f.white {
			for l := range k + 1 {
				x := dot3(w, f.white[k], f.white[l])
				a.Set(k, l, x)
				a.Set(l, k, x)
			}
			b.SetVec(k, dot3(w, f.white[k], f.y))
		}
		if inverse.Inverse(a) != nil {
			return false
		}
		det, _ = mat.LogDet(a)
		var beta mat.VecDense
		beta.MulVec(&inverse, b)
		f.beta = beta.RawVector().Data
		for i := range r {
			r[i] = f.y[i]
			for k := range f.white {
				r[i] -= f.beta[k] * f.white[k][i]
			}
		}
		scale = max(huberScale(r)*math.Sqrt(float64(n)/f.freedom), 1e-6)
		for i := range w {
			w[i] = min(1, far*scale/math.Abs(r[i]))
		}
	}
	f.se = make([]float64, p)
	for k := range f.se {
		f.se[k] = scale * math.Sqrt(inverse.At(k, k))
	}
	f.likelihood = f.prior - det/2 - f.freedom*math.Log(scale)
	return !math.IsNaN(f.likelihood)
}

func dot3(a, b, c []float64) float64 {
	sum := 0.0
	for i := range a {
		sum += a[i] * b[i] * c[i]
	}
	return sum
}

// alike are the correlations of the columns.
func (f *weightedFit) alike() [][]float64 {
	out := make([][]float64, len(f.white))
	one := make([]float64, len(f.white[0]))
	for i := range one {
		one[i] = 1
	}
	for k, a := range f.white {
		for _, b := range f.white {
			out[k] = append(out[k], dot3(one, a, b)/math.Sqrt(dot3(one, a, a)*dot3(one, b, b)))
		}
	}
	return out
}
