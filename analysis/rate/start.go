package rate

import (
	"math"

	"rundown/analysis/beat"
	"rundown/dsp/stats"
)

// start sets beta and intercepts to estimates that nearly half of the beats
// cannot spoil: repeated medians for the slope, medians for the rest.
func (f *fitter) start() {
	for i := range f.segments {
		f.segments[i].a = 0
	}
	s := f.longest()
	f.beta = vector{slope: f.repeatedMedian(f.points[s.first:s.last])}
	f.residuals()
	if f.active[side] {
		tick := f.median(f.points[s.first:s.last], func(p *point) (float64, bool) { return p.r, p.side == beat.Tick })
		tock := f.median(f.points[s.first:s.last], func(p *point) (float64, bool) { return p.r, p.side == beat.Tock })
		if b := tock - tick; !math.IsNaN(b) {
			f.beta[side] = b
		}
	}
	f.residuals()
	for i := range f.segments {
		s := &f.segments[i]
		s.a = f.median(f.points[s.first:s.last], func(p *point) (float64, bool) { return p.r, true })
	}
	f.residuals()
}

// repeatedMedian returns the median, over points, of the median slope to the
// other points of the same side (A. F. Siegel, "Robust regression using
// repeated medians", Biometrika 69, 1982). A few dozen points, evenly drawn,
// are enough to start from.
func (f *fitter) repeatedMedian(points []point) float64 {
	const most = 32
	step := max(1, (len(points)+most-1)/most)
	var outer [most]float64
	m := 0
	for i := 0; i < len(points); i += step {
		inner := f.scratch[:0]
		for j := i % step; j < len(points); j += step {
			p, q := &points[i], &points[j]
			if i != j && p.side == q.side {
				inner = append(inner, (q.y-p.y)/(q.z[slope]-p.z[slope]))
			}
		}
		f.scratch = inner
		if len(inner) > 0 {
			outer[m] = stats.Median(inner)
			m++
		}
	}
	if m == 0 {
		return 0
	}
	return stats.Median(outer[:m])
}

// median returns the median of the figures that get reports true for, NaN
// where there is none.
func (f *fitter) median(points []point, get func(*point) (float64, bool)) float64 {
	x := f.scratch[:0]
	for i := range points {
		if v, ok := get(&points[i]); ok {
			x = append(x, v)
		}
	}
	f.scratch = x
	if len(x) == 0 {
		return math.NaN()
	}
	return stats.Median(x)
}

// residuals refers every point to the model.
func (f *fitter) residuals() {
	for i := range f.points {
		p := &f.points[i]
		p.r = p.y - f.segments[p.segment].a - dot(&p.z, &f.beta)
	}
}
