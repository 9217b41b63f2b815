package beat

import (
	"math/rand/v2"
	"testing"
)

// Beats in a loud moment count less than others, all in a quiet room alike.
func TestWeight(t *testing.T) {
	const rate = 8000
	x := make([]float32, 10*rate)
	noise := newNoise(8)
	var starts []int
	for i := range x {
		x[i] = 0.01 * noise()
		if i > 5*rate && i < 6*rate {
			x[i] *= 10
		}
		if i%1000 == 0 {
			starts = append(starts, i)
		}
	}
	l := &learner{x: x, rate: rate, block: 8}
	l.weigh(starts)
	if w := l.weight(3 * rate); w != 1 {
		t.Errorf("weight %.3f in the quiet", w)
	}
	if w := l.weight(5.5 * rate); w < 0.02 || w > 0.05 {
		t.Errorf("weight %.3f where the power is a hundred times the usual, want 0.03", w)
	}
}

// newNoise returns a source of white noise of variance 1.
func newNoise(seed uint64) func() float32 {
	r := rand.New(rand.NewPCG(seed, 93))
	return func() float32 { return float32(r.NormFloat64()) }
}
