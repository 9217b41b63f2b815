package onset

import (
	"math"

	"gonum.org/v1/gonum/floats"
)

// Average is the mean sound of many beats laid over each other at their marks.
// Noise in it falls as the square root of their number.
type Average struct {
	Pre int // frames before the mark
	Sum []float64
	N   int // beats

	weight float64 // of all beats
}

// NewAverage returns an empty average that reaches pre frames before the mark
// and post after it.
func NewAverage(pre, post int) *Average {
	return &Average{Pre: pre, Sum: make([]float64, pre+post)}
}

// Add lays the beat whose mark is at the given place of x, which may be
// fractional, over the others; false where x does not hold all of it, or the
// mark is not a number.
func (a *Average) Add(x []float32, mark float64) bool { return a.AddWeighed(x, mark, 1) }

// AddWeighed is Add for a beat that is to count as so many: less than one where
// it is in louder noise than others.
func (a *Average) AddWeighed(x []float32, mark, weight float64) bool {
	if math.IsNaN(mark) {
		return false
	}
	at := int(math.Floor(mark))
	f := mark - float64(at)
	from := at - a.Pre - around + 1
	if from < 0 || from+len(a.Sum)+2*around > len(x) {
		return false
	}
	w := between(f, weight)
	for i := range a.Sum {
		var sum float64
		for k, v := range x[from+i:][:2*around] {
			sum += w[k] * float64(v)
		}
		a.Sum[i] += sum
	}
	a.N++
	a.weight += weight
	return true
}

// Join lays the beats of b, which is of the same extent, over those of a.
func (a *Average) Join(b *Average) {
	floats.Add(a.Sum, b.Sum)
	a.N += b.N
	a.weight += b.weight
}

// Mean returns the mean sound.
func (a *Average) Mean() []float64 {
	out := make([]float64, len(a.Sum))
	if a.N == 0 {
		return out
	}
	for i, v := range a.Sum {
		out[i] = v / a.weight
	}
	return out
}

// Reset empties the average.
func (a *Average) Reset() {
	clear(a.Sum)
	a.N, a.weight = 0, 0
}

// around is of how many frames on either side a sound between frames is worked out: enough
// for what a recorder lets pass of the highest notes.
const around = 16

// between returns the weights of the frames about a place f of a frame after one, the
// fraction of one that it is: a sine over its argument under a Hann window, of the sum
// weight.
func between(f, weight float64) (w [2 * around]float64) {
	var sum float64
	for k := range w {
		d := float64(k-around+1) - f
		w[k] = 0.5 + 0.5*math.Cos(math.Pi*d/(around+1))
		if d != 0 {
			w[k] *= math.Sin(math.Pi*d) / (math.Pi * d)
		}
		sum += w[k]
	}
	for k := range w {
		w[k] *= weight / sum
	}
	return w
}
