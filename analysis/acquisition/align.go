package acquisition

import (
	"math"
	"slices"

	"gonum.org/v1/gonum/blas/gonum"
	"gonum.org/v1/gonum/dsp/fourier"
	"gonum.org/v1/gonum/floats"

	"rundown/dsp/stats"
)

// row copies n samples of w from a place on, which may be fractional (Catmull
// and Rom's weights, between samples that lie half as far apart: the band reaches
// nearly up to half of what those of w.x are enough for); false where w does not hold
// them.
func (w *white) row(dst []float32, at float64) bool {
	i := int(math.Floor(at))
	f := float32(2 * (at - math.Floor(at)))
	if math.IsNaN(at) || i < 1 || i+len(dst)+2 > len(w.x) {
		return false
	}
	// The four samples about the place, in turn of both.
	p, q, r, s := w.half[i-1:], w.x[i:], w.half[i:], w.x[i+1:]
	if f >= 1 {
		f--
		p, q, r, s = q, r, s, w.half[i+1:]
	}
	a := ((-0.5*f+1)*f - 0.5) * f
	b := (1.5*f-2.5)*f*f + 1
	c := ((-1.5*f+2)*f + 0.5) * f
	d := (0.5*f - 0.5) * f * f
	n := len(dst)
	p, q, r, s = p[:n], q[:n], r[:n], s[:n]
	for j := range dst {
		dst[j] = a*p[j] + b*q[j] + c*r[j] + d*s[j]
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
	var room [512]float64 // for as many places as there are within reach
	r := w.likeness(room[:0], t, origin, at, reach)
	if r == nil {
		return math.NaN(), 0
	}
	best := 0
	for i, v := range r {
		if v > r[best] {
			best = i
		}
	}
	place = math.Round(at) + float64(best-2*reach)/2
	if best > 0 && best+1 < len(r) {
		place += stats.Vertex(r[best-1], r[best], r[best+1]) / 2
	}
	return place, r[best]
}

// likeness returns how alike the sound is to a template, its origin so many samples after its
// start, at each half of a sample within reach of the sample next to at, in dst where that has
// room for it; nil where the stretch does not hold that.
func (w *white) likeness(dst []float64, t []float32, origin int, at float64, reach int) []float64 {
	start := int(math.Round(at)) - origin
	if math.IsNaN(at) || start-reach < 1 || start+reach+len(t)+1 > len(w.x) {
		return nil
	}
	norm := math.Sqrt(float64(dot(t, t)))
	x := w.x[start-reach:][:len(t)]
	energy := float64(dot(x, x))
	r := slices.Grow(dst, 4*reach+1)[:4*reach+1]
	for d := range 2*reach + 1 {
		x, half := w.x[start-reach+d:], w.half[start-reach+d:]
		unit := norm*math.Sqrt(max(energy, 0)) + 1e-20
		r[2*d] = float64(dot(t, x)) / unit
		if d < 2*reach {
			r[2*d+1] = float64(dot(t, half)) / unit
		}
		out, in := x[0], x[len(t)]
		energy += float64(in*in) - float64(out*out)
	}
	return r
}

// side is the beats of one side, aligned.
type side struct {
	marks []float64 // samples; NaN where not found

}

// reachSeconds is how far from its coarse place a beat is looked for.
const reachSeconds = 0.004

// align refines coarse places by matching the sounds with their own mean; those of a period
// that was given, if that finds none, along a line.
func (w *white) align(coarse []float64, given bool) side {
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
		if m := w.usual(seed, pre, few, reach, best); m > best {
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
	if near := w.follow(slices.Clone(at), pre, n); near != nil {
		return side{near}
	}
	if given {
		if near := w.followLine(w.along(coarse, pre, n, reach), pre, n); near != nil {
			return side{near}
		}
	}
	return side{at}
}

// usual returns how alike the sounds about some two dozen of the places are to a template,
// their median; no more than least, as soon as that is plain.
func (w *white) usual(t []float32, pre int, places []float64, reach int, least float64) float64 {
	step := max(1, len(places)/24)
	n := (len(places) + step - 1) / step
	var rhos []float64
	for j, less := 0, 0; j < len(places); j += step {
		_, rho := w.match(t, pre, places[j], reach)
		rhos = append(rhos, rho)
		if rho <= least {
			less++
		}
		if less > n/2 {
			return least
		}
	}
	slices.Sort(rhos)
	return rhos[n/2]
}

// along returns where the beats are whose sounds are most like one of them along a straight
// line through coarse places, within reach of them: of beats that single ones hardly tell
// from the room, many that come evenly do (a Radon transform of the correlations; S. R.
// Deans, The Radon Transform and Some of Its Applications, Wiley, 1983).
func (w *white) along(coarse []float64, pre, n, reach int) []float64 {
	const seeds = 8
	wide := 4*reach + 1 // places, half a sample apart
	rows := make([][]float64, len(coarse))
	seed := make([]float32, n)
	best, from, to := 0.0, 0, 0
	for i := range seeds {
		own := (2*i + 1) * len(coarse) / (2 * seeds)
		if !w.row(seed, coarse[own]-float64(pre)) {
			continue
		}
		for j, c := range coarse {
			rows[j] = nil
			if j != own {
				rows[j] = w.likeness(nil, seed, pre, c, reach)
			}
		}
		for a := range wide {
			for b := range wide {
				if sum := line(rows, a, b); sum > best {
					best, from, to = sum, a, b
				}
			}
		}
	}
	marks := make([]float64, len(coarse))
	for j := range marks {
		marks[j] = math.Round(coarse[j]) + (at(from, to, j, len(coarse))-float64(2*reach))/2
	}
	return marks
}

// at returns where the jth of n is on a line from one place to another.
func at(from, to, j, n int) float64 {
	return float64(from) + float64(to-from)*float64(j)/float64(max(1, n-1))
}

// line returns the sum of what rows hold along a line from a place of the first to one of the last.
func line(rows [][]float64, from, to int) (sum float64) {
	step := float64(to-from) / float64(max(1, len(rows)-1))
	place := float64(from) + 0.5
	for _, r := range rows {
		if r != nil {
			sum += r[int(place)]
		}
		place += step
	}
	return sum
}

// follow looks for beats of which many were taken for noise where those about each
// would have it, and nearer than they were looked for first. It returns nil where
// they do not come evenly so, either.
func (w *white) follow(marks []float64, pre, n int) []float64 {
	return w.nearer(marks, func(marks []float64) (means [2][]float32) {
		t := w.mean(marks, pre, n)
		return [2][]float32{t, t}
	}, pre)
}

// followLine is follow for marks that lie on a line, each by the mean of others: a faint beat
// is more like itself than like any other, and would stay on the line.
func (w *white) followLine(marks []float64, pre, n int) []float64 {
	return w.nearer(marks, func(marks []float64) (means [2][]float32) {
		for half := range means {
			means[half] = w.mean(everyOther(marks, 1-half), pre, n)
		}
		return means
	}, pre)
}

// nearer is follow by means of either half of the beats.
func (w *white) nearer(marks []float64, means func([]float64) [2][]float32, pre int) []float64 {
	const nearer = 4
	reach := int(reachSeconds * w.perSec / nearer)
	for range 4 {
		t := means(marks)
		for i, c := range neighbourly(marks) {
			marks[i], _ = w.match(t[i/2%2], pre, c, reach)
		}
	}
	if !w.even(w.placing(marks)+math.Log(nearer), plainly) {
		return nil
	}
	return marks
}

// everyOther returns one half of the marks, every other pair of them: both kinds of beats, if
// every other one is late.
func everyOther(marks []float64, half int) []float64 {
	var out []float64
	for i, m := range marks {
		if i/2%2 == half {
			out = append(out, m)
		}
	}
	return out
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
	sum, row, rows := make([]float32, n), make([]float32, n), 0.0
	for _, m := range marks {
		if !w.row(row, m-float64(pre)) {
			continue
		}
		g := 1 / float32(math.Sqrt(float64(dot(row, row)))+1e-9)
		add(sum, g, row)
		rows++
	}
	w.clean(sum, rows)
	return sum
}

// clean frees a template, the sum of so many rows of energy one, of the room that is left
// in it: where in it, and at which frequencies, it is no louder than so many rows of noise
// would be, it is noise (N. Wiener, Extrapolation, Interpolation and Smoothing of Stationary
// Time Series, 1949). Of faint beats, that is most of it.
func (w *white) clean(t []float32, rows float64) {
	const share = 16 // of the template, which are freed each by itself
	n := len(t)
	room := rows / float64(n) // variance of a sample
	power := make([]float64, share)
	for i, v := range t {
		power[i*share/n] += float64(v) * float64(v) * share / float64(n)
	}
	gains := make([]float64, n)
	var squares float64
	for i := range gains {
		gains[i] = wiener(power, i*share/n, 1, room)
		squares += gains[i] * gains[i]
	}
	x := make([]float64, n)
	for i, v := range t {
		x[i] = float64(v) * gains[i]
	}
	fft := fourier.NewFFT(n)
	c := fft.Coefficients(nil, x)
	spectrum := make([]float64, len(c))
	for k, v := range c {
		spectrum[k] = real(v)*real(v) + imag(v)*imag(v)
	}
	room *= squares * w.perSec / 2 / w.hz
	for k := range c {
		c[k] *= complex(wiener(spectrum, k, 4, room)/float64(n), 0)
	}
	fft.Sequence(x, c)
	for i, v := range x {
		t[i] = float32(v)
	}
}

// wiener returns the gain for the ith of some powers, smoothed over so many neighbours on
// either side, in which there is as much noise as room.
func wiener(power []float64, i, about int, room float64) float64 {
	near := power[max(0, i-about):min(len(power), i+about+1)]
	return max(0, 1-room*float64(len(near))/floats.Sum(near))
}
