package rate

import (
	"math"

	"gonum.org/v1/gonum/mat"
)

// solve returns the weighted least-squares coefficients of the active columns.
func (f *fitter) solve() (vector, bool) {
	return f.invert(f.equations())
}

// equations returns the normal equations of the active columns, the intercepts
// eliminated.
func (f *fitter) equations() (m matrix, c vector) {
	weight := f.sideWeights()
	var active []int
	for k, on := range f.active {
		if on {
			active = append(active, k)
		}
	}
	for i := range f.segments {
		s := &f.segments[i]
		s.sw, s.sy, s.sz = 0, 0, vector{}
	}
	for i := range f.points {
		p := &f.points[i]
		if p.w == 0 {
			continue
		}
		w := p.w * weight[p.side]
		s := &f.segments[p.segment]
		s.sw += w
		s.sy += w * p.y
		for _, k := range active {
			wz := w * p.z[k]
			s.sz[k] += wz
			c[k] += wz * p.y
			for _, l := range active {
				if l > k {
					break
				}
				m[k][l] += wz * p.z[l]
			}
		}
	}
	for i := range f.segments {
		s := &f.segments[i]
		if s.sw <= 0 {
			continue
		}
		for k := range s.sz {
			c[k] -= s.sz[k] * s.sy / s.sw
			for l := range k + 1 {
				m[k][l] -= s.sz[k] * s.sz[l] / s.sw
			}
		}
	}
	for k := range m {
		for l := range k {
			m[l][k] = m[k][l]
		}
	}
	return m, c
}

// invert solves the normal equations of the active columns, and leaves the
// inverse of the normal matrix in f.inverse: times the squared scatter of unit
// weight, the covariance.
func (f *fitter) invert(m matrix, c vector) (vector, bool) {
	if f.normal.IsEmpty() {
		f.normal = *mat.NewSymDense(columns, nil)
		f.inverse = *mat.NewSymDense(columns, nil)
	}
	for k := range columns {
		for l := range k {
			v := 0.
			if f.active[k] && f.active[l] {
				v = m[k][l]
			}
			f.normal.SetSym(k, l, v)
		}
		if f.active[k] {
			f.normal.SetSym(k, k, m[k][k])
		} else {
			f.normal.SetSym(k, k, float64(len(f.points)))
			c[k] = 0
		}
	}
	if !f.chol.Factorize(&f.normal) || f.chol.InverseTo(&f.inverse) != nil {
		return vector{}, false
	}
	const worst = 1e8 // variance inflation beyond which a column is not determined
	var beta vector
	for k := range beta {
		if f.inverse.At(k, k)*f.normal.At(k, k) > worst {
			return vector{}, false
		}
		for l := range c {
			beta[k] += f.inverse.At(k, l) * c[l]
		}
	}
	return beta, true
}

// sideWeights returns the weight of a beat of each side, the mean of both
// sides' precision being 1.
func (f *fitter) sideWeights() [2]float64 {
	unit := f.unit()
	return [2]float64{unit * unit / (f.scale[0] * f.scale[0]), unit * unit / (f.scale[1] * f.scale[1])}
}

// unit returns the scatter of a beat of weight 1, s.
func (f *fitter) unit() float64 {
	return math.Sqrt(2 / (1/(f.scale[0]*f.scale[0]) + 1/(f.scale[1]*f.scale[1])))
}

// dot returns the inner product.
func dot(a, b *vector) float64 {
	var sum float64
	for k, v := range a {
		sum += v * b[k]
	}
	return sum
}

// plus returns a + w·b.
func plus(a vector, w float64, b vector) vector {
	for k := range a {
		a[k] += w * b[k]
	}
	return a
}
