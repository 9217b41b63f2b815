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
	from := at - a.Pre
	if from < 1 || from+len(a.Sum)+2 > len(x) {
		return false
	}
	// Cubic interpolation (Catmull and Rom's weights): flat to within a decibel
	// up to a third of the sample rate.
	w0 := weight * ((-0.5*f+1)*f - 0.5) * f
	w1 := weight * ((1.5*f-2.5)*f*f + 1)
	w2 := weight * ((-1.5*f+2)*f + 0.5) * f
	w3 := weight * (0.5*f - 0.5) * f * f
	s := x[from-1 : from+len(a.Sum)+2]
	for i := range a.Sum {
		a.Sum[i] += w0*float64(s[i]) + w1*float64(s[i+1]) + w2*float64(s[i+2]) + w3*float64(s[i+3])
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
