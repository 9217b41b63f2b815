package rate

import (
	"math"

	"gonum.org/v1/gonum/mat"
	"gonum.org/v1/gonum/stat/distuv"

	"rundown/analysis/beat"
)

const (
	// rejection is the residual, in standard deviations, from which a beat no
	// longer counts. Tukey's bisquare then costs 1 % in standard error where
	// the scatter is Gaussian.
	rejection = 6
	// efficiency is that of the bisquare with this rejection point, against
	// least squares on Gaussian scatter (by numerical integration).
	efficiency = 0.9810
	// leastFreedom is the fewest degrees of freedom from which a scatter is
	// estimated: fewer cannot tell a bad onset from a good one.
	leastFreedom = 5
	// curveFreedom is the degrees of freedom from which curvature is fitted.
	curveFreedom = 10
	// sideBeats is the fewest beats of each side for the sides to have a
	// scatter of their own.
	sideBeats = 12
)

// The columns of the model t = a(segment) + slope·x + side·s + curve·(x² − ⅓),
// s being −½ for tick and +½ for tock.
const (
	slope = iota
	side
	curve
	columns
)

// vector holds a figure for each column, matrix one for each pair.
type (
	vector [columns]float64
	matrix [columns]vector
)

// point is a heard beat within a window.
type point struct {
	z       vector  // the row of the model
	y       float64 // time less that of an even grid through the segment, s
	at      int     // position among the window's beats
	index   int64   // of the beat
	segment int     // index into fitter.segments
	side    beat.Side
	r       float64 // residual, s
	w       float64 // robust weight, 0 … 1
}

// segment is a stretch of heard beats without a jump, within a window.
type segment struct {
	run         int   // number of the stretch of the run to which it belongs
	first, last int   // half-open range of points
	index       int64 // beat at which its grid starts
	time        float64
	a           float64 // intercept about the grid, s

	sw, sy float64 // sums of weights and weighted times
	sz     vector
}

// fitter fits a robust straight line to the beats of a window, both sides
// sharing one slope, each stretch between jumps with an intercept of its own.
// It keeps its memory from window to window.
//
// The slope is that of the straight line. Curvature is fitted beside it, so
// that a drift within the window counts neither as scatter nor as bad onsets.
type fitter struct {
	points   []point
	segments []segment
	origin   int64   // beat index of x = 0, times two
	span     float64 // beats from x = 0 to x = 1
	grid     float64 // beat interval of the grid, s
	active   [columns]bool
	scale    [2]float64 // scatter by side, s
	factor   float64    // variance of a beat of weight 1 in the settled fit, s²

	beta    vector
	inverse mat.SymDense // of the normal matrix, unit scatter
	normal  mat.SymDense
	chol    mat.Cholesky
	scratch []float64
	student []float64 // Student's factor by degrees of freedom, 0 where not needed yet
}

// lineFit is what a fitter finds.
type lineFit struct {
	interval  float64 // mean interval between beats, s
	variance  float64 // of interval, s²
	beatError Value   // s
	jitter    float64 // s
	freedom   float64 // degrees of freedom of the scatter
	student   float64 // factor on a standard error so that ± 1.96 of it hold 95 %
}

// fit fits beats; runs says which stretch between jumps each is in. It reports
// false where too few were heard. Points and segments then hold the details.
func (f *fitter) fit(beats []beat.Beat, runs []int) (lineFit, bool) {
	if !f.load(beats, runs) {
		return lineFit{}, false
	}
	f.start()
	if !f.refine() {
		return lineFit{}, false
	}
	return f.result()
}

// load fills points and segments and chooses the columns of the model.
func (f *fitter) load(beats []beat.Beat, runs []int) bool {
	f.points, f.segments = f.points[:0], f.segments[:0]
	var count [2]int
	var last int64
	for i, b := range beats {
		if !b.Heard {
			continue
		}
		n := len(f.segments)
		if n == 0 || f.segments[n-1].run != runs[i] {
			f.segments = append(f.segments, segment{run: runs[i], first: len(f.points), index: b.Index, time: b.Time})
			n++
		}
		p := point{y: b.Time, at: i, index: b.Index, segment: n - 1, side: b.Side, w: 1}
		p.z[slope] = float64(b.Index - f.segments[0].index)
		p.z[side] = float64(b.Side) - 0.5
		f.points = append(f.points, p)
		f.segments[n-1].last = len(f.points)
		count[b.Side]++
		last = b.Index
	}
	both := count[beat.Tick] > 0 && count[beat.Tock] > 0
	f.active = [columns]bool{slope: true, side: both}
	if f.freedom() < leastFreedom {
		return false
	}
	f.active[curve] = f.freedom() > curveFreedom
	f.span = float64(last-f.segments[0].index) / 2
	f.origin = last + f.segments[0].index
	f.settle()
	return true
}

// settle refers times to an even grid, so that no digits are lost, and the
// index to −1 … 1.
func (f *fitter) settle() {
	s := f.longest()
	first, last := f.points[s.first], f.points[s.last-1]
	f.grid = 0
	if beats := last.z[slope] - first.z[slope]; beats > 0 {
		f.grid = (last.y - first.y) / beats
	}
	base := float64(f.segments[0].index)
	for i := range f.points {
		p := &f.points[i]
		g := f.segments[p.segment]
		p.y -= g.time + f.grid*(p.z[slope]+base-float64(g.index))
		p.z[slope] = p.z[slope]/f.span - 1
		if f.active[curve] {
			p.z[curve] = p.z[slope]*p.z[slope] - 1./3
		}
	}
}

// freedom returns the degrees of freedom of the points that count.
func (f *fitter) freedom() float64 {
	n := -len(f.segments)
	for _, p := range f.points {
		if p.w > 0 {
			n++
		}
	}
	for _, on := range f.active {
		if on {
			n--
		}
	}
	return float64(n)
}

// counting returns the number of points of a segment that were not rejected.
func (f *fitter) counting(s *segment) int {
	n := 0
	for i := s.first; i < s.last; i++ {
		if f.points[i].w > 0 {
			n++
		}
	}
	return n
}

// longest returns the segment with the most points.
func (f *fitter) longest() segment {
	best := f.segments[0]
	for _, s := range f.segments[1:] {
		if s.last-s.first > best.last-best.first {
			best = s
		}
	}
	return best
}

// start sets beta and intercepts to estimates that nearly half of the beats
// cannot spoil: repeated medians for the slope, medians for the rest.
func (f *fitter) start() {
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
	const most = 40
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
			outer[m] = median(inner)
			m++
		}
	}
	if m == 0 {
		return 0
	}
	return median(outer[:m])
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
	return median(x)
}

// residuals refers every point to the model.
func (f *fitter) residuals() {
	for i := range f.points {
		p := &f.points[i]
		p.r = p.y - f.segments[p.segment].a - dot(&p.z, &f.beta)
	}
}

// refine iterates reweighted least squares: first with a scatter that bad
// onsets cannot spoil, then with an efficient one.
func (f *fitter) refine() bool {
	return f.converge(f.medianScale, 0.3) && f.converge(f.efficientScale, 0.02)
}

// converge iterates until no coefficient moves by more than near of its
// standard error.
func (f *fitter) converge(rescale func(), near float64) bool {
	for range 8 {
		before := f.beta
		rescale()
		if !f.iterate() {
			return false
		}
		far := near * f.unit() / math.Sqrt(float64(len(f.points)))
		if math.Abs(f.beta[slope]-before[slope]) < far &&
			math.Abs(f.beta[side]-before[side]) < far &&
			math.Abs(f.beta[curve]-before[curve]) < far {
			return true
		}
	}
	return true
}

// iterate weighs the points by their residuals and fits them anew.
func (f *fitter) iterate() bool {
	for i := range f.points {
		p := &f.points[i]
		p.w = 0
		if u := p.r / (rejection * f.scale[p.side]); math.Abs(u) < 1 {
			p.w = (1 - u*u) * (1 - u*u)
		}
	}
	beta, ok := f.solve()
	if !ok {
		return false
	}
	f.beta = beta
	for i := range f.segments {
		s := &f.segments[i]
		if s.sw > 0 {
			s.a = (s.sy - dot(&s.sz, &f.beta)) / s.sw
		}
	}
	f.residuals()
	return true
}

// medianScale sets the scatter of each side from the median absolute residual.
func (f *fitter) medianScale() {
	// Residuals are smaller than the scatter, their median more so where there
	// are few; found by simulation for coverage with 8 to 16 beats.
	free := f.fullFreedom()
	shrink := math.Sqrt(float64(len(f.points))/free) * (1 + 5/free)
	of := func(sides ...beat.Side) float64 {
		return 1.4826 * shrink * f.median(f.points, func(p *point) (float64, bool) {
			return math.Abs(p.r), len(sides) == 0 || p.side == sides[0]
		})
	}
	if f.sided() {
		f.scale = [2]float64{of(beat.Tick), of(beat.Tock)}
	} else {
		s := of()
		f.scale = [2]float64{s, s}
	}
	f.guardScale()
}

// efficientScale sets the scatter of each side from all residuals not
// rejected. The sides get scatters of their own only where these differ beyond
// doubt, since weights that follow chance cost precision.
func (f *fitter) efficientScale() {
	all, nAll := f.spread(func(beat.Side) bool { return true })
	next := [2]float64{all, all}
	if f.sided() {
		tick, n := f.spread(func(s beat.Side) bool { return s == beat.Tick })
		tock := 0.
		tock, _ = f.spread(func(s beat.Side) bool { return s == beat.Tock })
		doubt := 3 * math.Sqrt(1/(2*n)+1/(2*(nAll-n)))
		if math.Abs(math.Log(tick/tock)) > doubt {
			next = [2]float64{tick, tock}
		}
	}
	f.scale = next
	f.guardScale()
}

// guardScale keeps the scatter above rounding, for beats without any.
func (f *fitter) guardScale() {
	const least = 1e-11 // s
	for i, s := range f.scale {
		if !(s > least) {
			f.scale[i] = least
		}
	}
}

// sided reports that each side has enough beats for a scatter of its own.
func (f *fitter) sided() bool {
	n := 0
	for _, p := range f.points {
		n += int(p.side)
	}
	return min(n, len(f.points)-n) >= sideBeats
}

// fullFreedom returns the degrees of freedom with every point counting.
func (f *fitter) fullFreedom() float64 {
	n := len(f.points) - len(f.segments)
	for _, on := range f.active {
		if on {
			n--
		}
	}
	return float64(n)
}

// spread returns the standard deviation of the beats of the sides wanted, in
// seconds, and their number.
func (f *fitter) spread(want func(beat.Side) bool) (sigma, n float64) {
	var squares, slopes float64
	for i := range f.points {
		p := &f.points[i]
		if !want(p.side) {
			continue
		}
		n++
		psi, d := bisquare(p.r / (rejection * f.scale[p.side]))
		psi *= rejection * f.scale[p.side]
		squares += psi * psi
		slopes += d
	}
	if slopes <= 0 {
		return 0, n
	}
	shrink := float64(len(f.points)) / f.fullFreedom()
	return math.Sqrt(efficiency*shrink*squares*n) / slopes, n
}

// bisquare returns Tukey's ψ and its derivative at u, the residual over the
// point of rejection.
func bisquare(u float64) (psi, derivative float64) {
	v := 1 - u*u
	if v <= 0 {
		return 0, 0
	}
	return u * v * v, v * (v - 4*u*u)
}

// solve returns the weighted least-squares coefficients of the active columns.
func (f *fitter) solve() (vector, bool) {
	m, c := f.equations(true)
	return f.invert(m, c, f.active)
}

// equations returns the normal equations of all columns, the intercepts
// eliminated. With robust false, every point counts as its side does.
func (f *fitter) equations(robust bool) (m matrix, c vector) {
	weight := f.sideWeights()
	for i := range f.segments {
		s := &f.segments[i]
		s.sw, s.sy, s.sz = 0, 0, vector{}
	}
	for i := range f.points {
		p := &f.points[i]
		w := weight[p.side]
		if robust {
			w *= p.w
		}
		s := &f.segments[p.segment]
		s.sw += w
		s.sy += w * p.y
		for k := range p.z {
			wz := w * p.z[k]
			s.sz[k] += wz
			c[k] += wz * p.y
			for l := range k + 1 {
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

// invert solves the normal equations of the columns used, and leaves the
// inverse of the normal matrix in f.inverse: times the squared scatter of unit
// weight, the covariance.
func (f *fitter) invert(m matrix, c vector, use [columns]bool) (vector, bool) {
	if f.normal.IsEmpty() {
		f.normal = *mat.NewSymDense(columns, nil)
		f.inverse = *mat.NewSymDense(columns, nil)
	}
	for k := range columns {
		for l := range k {
			v := 0.
			if use[k] && use[l] {
				v = m[k][l]
			}
			f.normal.SetSym(k, l, v)
		}
		if use[k] {
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

// result reads the figures off the settled fit and leaves the covariance of
// the full model, unit scatter, in f.inverse.
func (f *fitter) result() (lineFit, bool) {
	freedom := f.freedom()
	if freedom < 1 {
		return lineFit{}, false
	}
	// The straight line through the fitted curve: unlike one through the beats
	// by their robust weights, it keeps curvature out of the slope.
	m, _ := f.equations(false)
	var c vector
	for k := range c {
		c[k] = dot(&m[k], &f.beta)
	}
	line := f.active
	line[curve] = false
	straight, ok := f.invert(m, c, line)
	if !ok {
		return lineFit{}, false
	}
	f.factor = f.unitVariance()
	out := lineFit{
		interval:  f.grid + straight[slope]/f.span,
		variance:  f.factor * f.inverse.At(slope, slope) / (f.span * f.span),
		beatError: Value{math.NaN(), math.NaN()},
		jitter:    f.jitter(),
		freedom:   freedom,
		student:   f.studentFactor(int(freedom)),
	}
	if _, ok = f.invert(m, c, f.active); !ok {
		return lineFit{}, false
	}
	if f.active[side] {
		out.beatError = Value{f.beta[side], math.Sqrt(f.factor*f.inverse.At(side, side)) * out.student}
	}
	return out, true
}

// unitVariance returns the variance of a beat of weight 1 as it enters the
// covariance of the coefficients, s² (P. J. Huber, Robust Statistics, 1981,
// section 7.6).
func (f *fitter) unitVariance() float64 {
	var squares, slopes, slopes2 float64
	for i := range f.points {
		p := &f.points[i]
		psi, d := bisquare(p.r / (rejection * f.scale[p.side]))
		psi *= rejection
		squares += psi * psi
		slopes += d
		slopes2 += d * d
	}
	n := float64(len(f.points))
	mean := slopes / n
	if mean <= 0 {
		return math.NaN()
	}
	free := f.fullFreedom()
	k := 1 + (n-free)/n*(slopes2/n-mean*mean)/(mean*mean)
	unit := f.unit()
	return k * k * squares / free / (mean * mean) * unit * unit
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
	if f.active[curve] {
		z[curve] = z[slope]*z[slope] - 1./3
	}
	return z
}

// plus returns a + w·b.
func plus(a vector, w float64, b vector) vector {
	for k := range a {
		a[k] += w * b[k]
	}
	return a
}

// dot returns the inner product.
func dot(a, b *vector) float64 {
	return a[0]*b[0] + a[1]*b[1] + a[2]*b[2]
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
