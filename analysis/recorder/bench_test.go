package recorder

import (
	"math/rand/v2"
	"testing"

	"rundown/dsp/wavio"
)

// BenchmarkSecond is what a second of 48 kHz costs.
func BenchmarkSecond(b *testing.B) {
	rng := rand.New(rand.NewPCG(3, 9))
	x := make([]float32, 48000)
	for i := range x {
		x[i] = float32(0.01 * rng.NormFloat64())
	}
	s := wavio.Floats(x)
	rough := s.Differences(nil, 5, 4, 48)
	z, m := NewZeros(48000, 48), NewMeter(48000)
	for b.Loop() {
		z.Add(s, rough)
		m.Take(s, rough)
	}
}
