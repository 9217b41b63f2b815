package rate

import (
	"math"

	"gonum.org/v1/gonum/mat"

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
	// curveFreedom is the degrees of freedom from which curvature is fitted, and
	// bendFreedom those from which it may change, and the beat error with it.
	curveFreedom = 10
	bendFreedom  = 20
	// steepFreedom is the degrees of freedom from which a movement may be seen to lose
	// more from beat to beat, as before a stop, than a cubic follows.
	steepFreedom = 40
	// sideBeats is the fewest beats of each side for the sides to have a
	// scatter of their own.
	sideBeats = 12
)

// The columns of the model
//
//	t = a(segment) + slope·x + side·s + curve·P₂ + cube·P₃ + apart·s·x
//	    + quartic·P₄ + quintic·P₅ + fleeing·s·P₂
//
// s being −½ for tick and +½ for tock, and Pₙ the Legendre polynomials in x with a
// leading coefficient of 1.
const (
	slope = iota
	side
	curve
	cube
	apart
	quartic
	quintic
	fleeing
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
	late    float64 // by its tooth, s: not in y, nor is what the beat error expected makes of it
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
// The slope is that of the straight line. Curvature and a beat error that drifts
// are fitted beside it, so that a drift within the window counts neither as
// scatter nor as bad onsets.
type fitter struct {
	rows     []vector // of the model, for all beats of the window, heard or not
	points   []point  // those heard
	segments []segment
	origin   int64   // beat index of x = 0, times two
	span     float64 // beats from x = 0 to x = 1
	grid     float64 // beat interval of the grid, s
	active   [columns]bool
	scale    [2]float64 // scatter by side, s
	teeth    teeth
	expect   func(at float64) float64 // beat error at a true time, s: what is fitted is what is left
	expected float64                  // its mean over the window, s
	factor   float64                  // variance of a beat of weight 1 in the settled fit, s²

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
	f.rows, f.points, f.segments = f.rows[:0], f.points[:0], f.segments[:0]
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
		late := f.teeth.late(b.Index)
		p := point{y: b.Time - late - (float64(b.Side)-0.5)*f.beatErrorAt(b.Time), late: late, at: i, index: b.Index, segment: n - 1, side: b.Side, w: 1}
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
	bends := f.freedom() > bendFreedom
	f.active[cube], f.active[apart] = bends, bends && bothThroughout(beats)
	f.span = float64(last-f.segments[0].index) / 2
	f.origin = last + f.segments[0].index
	f.toEvenGrid()
	f.expected = 0
	for _, b := range beats {
		f.expected += f.beatErrorAt(b.Time) / float64(len(beats))
		z := f.row(b.Index)
		z[side] = float64(b.Side) - 0.5
		f.bend(&z)
		f.rows = append(f.rows, z)
	}
	return true
}

// beatErrorAt returns the beat error to be expected at a true time, 0 where none is, s.
func (f *fitter) beatErrorAt(time float64) float64 {
	if e := f.expect(time); !math.IsNaN(e) {
		return e
	}
	return 0
}

// bothThroughout reports whether the beats of both sides are heard in all parts of a
// window: how the beat error changes is not to be told from a few of them.
func bothThroughout(beats []beat.Beat) bool {
	const parts, share = 4, 0.25
	for k := range parts {
		part := beats[k*len(beats)/parts : (k+1)*len(beats)/parts]
		var heard [2]float64
		for _, b := range part {
			if b.Heard {
				heard[b.Side]++
			}
		}
		if math.Min(heard[0], heard[1]) < share*float64(len(part))/2 {
			return false
		}
	}
	return true
}

// toEvenGrid refers times to an even grid, so that no digits are lost, and the
// index to −1 … 1.
func (f *fitter) toEvenGrid() {
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
		f.bend(&p.z)
	}
}

// bend fills in the columns that follow from slope and side.
func (f *fitter) bend(z *vector) {
	x := z[slope]
	if f.active[curve] {
		z[curve] = x*x - 1./3
	}
	if f.active[cube] {
		z[cube] = x*x*x - 0.6*x
	}
	if f.active[apart] {
		z[apart] = z[side] * x
	}
	if f.active[quartic] {
		z[quartic] = x*x*x*x - 6./7*x*x + 3./35
	}
	if f.active[quintic] {
		z[quintic] = x * (x*x*x*x - 10./9*x*x + 5./21)
	}
	if f.active[fleeing] {
		z[fleeing] = z[side] * (x*x - 1./3)
	}
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

// number returns the number of points that were not rejected.
func (f *fitter) number() float64 {
	n := 0
	for i := range f.segments {
		n += f.counting(&f.segments[i])
	}
	return float64(n)
}

// freedom returns the degrees of freedom of the points that were not rejected.
func (f *fitter) freedom() float64 { return f.number() - f.parameters() }

// parameters returns the number of coefficients and intercepts.
func (f *fitter) parameters() float64 {
	n := len(f.segments)
	for _, on := range f.active {
		if on {
			n++
		}
	}
	return float64(n)
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
