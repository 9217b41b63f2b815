package acquisition

import (
	"math"
	"slices"

	"gonum.org/v1/gonum/blas/gonum"

	"rundown/dsp/stats"
)

// row copies n samples of w from a place on, which may be fractional (Catmull
// and Rom's weights); false where w does not hold them.
func (w *white) row(dst []float32, at float64) bool {
	i := int(math.Floor(at))
	f := float32(at - math.Floor(at))
	if math.IsNaN(at) || i < 1 || i+len(dst)+2 > len(w.x) {
		return false
	}
	a := ((-0.5*f+1)*f - 0.5) * f
	b := (1.5*f-2.5)*f*f + 1
	c := ((-1.5*f+2)*f + 0.5) * f
	d := (0.5*f - 0.5) * f * f
	x := w.x[i-1 : i+len(dst)+2]
	for j := range dst {
		dst[j] = a*x[j] + b*x[j+1] + c*x[j+2] + d*x[j+3]
	}
	return true
}

// dot returns the sum of products of a and the start of b, which is no shorter.
func dot(a, b []float32) float32 { return gonum.Implementation{}.Sdot(len(a), a, 1, b, 1) }

// add adds g times the start of b to a.
func add(a []float32, g float32, b []float32) { gonum.Implementation{}.Saxpy(len(a), g, b, 1, a, 1) }

// match returns where within reach of at the template lies best, its origin so
// many samples after its start, and how alike it is there.
func (w *white) match(t []float32, origin int, at float64, reach int) (place, rho float64) {
	start := int(math.Round(at)) - origin
	if math.IsNaN(at) || start-reach < 1 || start+reach+len(t)+1 > len(w.x) {
		return math.NaN(), 0
	}
	var r [3]float64
	best := -1.0
	where := 0
	norm := math.Sqrt(float64(dot(t, t)))
	at0 := func(d int) float64 {
		x := w.x[start+d : start+d+len(t)]
		en := float64(dot(x, x))
		return float64(dot(t, x)) / (norm*math.Sqrt(en) + 1e-20)
	}
	energy := float64(dot(w.x[start-reach:start-reach+len(t)], w.x[start-reach:start-reach+len(t)]))
	for d := -reach; d <= reach; d++ {
		x := w.x[start+d : start+d+len(t)]
		c := float64(dot(t, x)) / (norm*math.Sqrt(max(energy, 0)) + 1e-20)
		if c > best {
			best, where = c, d
		}
		out, in := w.x[start+d], w.x[start+d+len(t)]
		energy += float64(in*in) - float64(out*out)
	}
	for i := range r {
		r[i] = at0(where + i - 1)
	}
	v := stats.Vertex(r[0], r[1], r[2])
	return float64(start+where+origin) + v, r[1]
}

// side is the beats of one side, aligned.
type side struct {
	marks []float64 // samples; NaN where not found

}

// reachSeconds is how far from its coarse place a beat is looked for.
const reachSeconds = 0.004

// align refines coarse places by matching the sounds with their own mean.
func (w *white) align(coarse []float64) side {
	ms := w.perSec / 1000
	pre, n := int(6*ms), int(20*ms)
	reach := int(reachSeconds * w.perSec)
	const many = 60
	step := max(1, len(coarse)/many)
	var few []float64
	for i := 0; i < len(coarse); i += step {
		few = append(few, coarse[i])
	}
	// The beat that is most like the others is the first template.
	var t []float32
	best := -1.0
	for i := 0; i < 8 && i < len(few); i++ {
		seed := make([]float32, n)
		if !w.row(seed, few[(2*i+1)*len(few)/16]-float64(pre)) {
			continue
		}
		var rhos []float64
		for j := 0; j < len(few); j += max(1, len(few)/24) {
			_, rho := w.match(seed, pre, few[j], reach)
			rhos = append(rhos, rho)
		}
		slices.Sort(rhos)
		if m := rhos[len(rhos)/2]; m > best {
			best, t = m, seed
		}
	}
	if t == nil {
		return side{}
	}
	for range 4 {
		t = w.mean(w.matches(t, pre, few, reach), pre, n)
	}
	at := w.matches(t, pre, coarse, reach)
	if w.even(w.placing(at), plainly) {
		return side{at}
	}
	if near := w.follow(t, pre, at); near != nil {
		at = near
	}
	return side{at}
}

// follow looks for beats of which many were taken for noise where those about each
// would have it, and nearer than they were looked for first. It returns nil where
// they do not come evenly so, either.
func (w *white) follow(t []float32, pre int, marks []float64) []float64 {
	const nearer = 4
	reach := int(reachSeconds * w.perSec / nearer)
	for range 3 {
		marks = w.matches(t, pre, neighbourly(marks), reach)
		t = w.mean(marks, pre, len(t))
	}
	if !w.even(w.placing(marks)+math.Log(nearer), plainly) {
		return nil
	}
	return marks
}

// neighbourly returns where the median of the neighbours of each mark has it.
func neighbourly(marks []float64) []float64 {
	const reach = 7 // beats either side of its kind: every other one may be late
	step := meanStep(marks, math.NaN())
	out, near := make([]float64, len(marks)), make([]float64, 0, 2*reach+1)
	for i := range marks {
		near = near[:0]
		for j := i%2 + max(0, i/2-reach)*2; j < min(len(marks), i+2*reach+1); j += 2 {
			if v := marks[j] - float64(j-i)*step; !math.IsNaN(v) {
				near = append(near, v)
			}
		}
		out[i] = math.NaN()
		if len(near) > 0 {
			out[i] = stats.Median(near)
		}
	}
	return out
}

func (w *white) matches(t []float32, pre int, coarse []float64, reach int) []float64 {
	out := make([]float64, len(coarse))
	for i, c := range coarse {
		out[i], _ = w.match(t, pre, c, reach)
	}
	return out
}

// mean returns the mean of n samples about the marks, each of the same energy.
func (w *white) mean(marks []float64, pre, n int) []float32 {
	sum, row := make([]float32, n), make([]float32, n)
	for _, m := range marks {
		if !w.row(row, m-float64(pre)) {
			continue
		}
		g := 1 / float32(math.Sqrt(float64(dot(row, row)))+1e-9)
		add(sum, g, row)
	}
	return sum
}
