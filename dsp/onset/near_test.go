package onset

import (
	"math"
	"math/rand/v2"
	"testing"
)

// Near must agree with Find, which goes another way.
func TestNearAgreesWithFind(t *testing.T) {
	const rate = 48000
	r := rand.New(rand.NewPCG(3, 4))
	x := make([]float32, rate)
	for i := range x {
		x[i] = float32(0.01 * r.NormFloat64())
	}
	template := make([]float64, 240)
	for i := range template {
		s := float64(i) / rate
		template[i] = math.Exp(-s/0.0012) * (math.Sin(2*math.Pi*2900*s) + 0.7*math.Sin(2*math.Pi*9100*s))
	}
	starts := []int{}
	for k := 1; k < 9; k++ {
		at := k*rate/10 + k*7
		starts = append(starts, at)
		for i, v := range template {
			x[at+i] += float32(0.3 * v)
		}
	}
	s := NewShaping(x, rate, starts, rate/100, rate/50)
	m := NewMatcher(s, template, 0, 100)
	for _, at := range starts {
		a, ok := m.Find(x, 0, float64(at)+1.3, 6)
		b, ok2 := m.Near(x, 0, float64(at)+1.3, 6)
		if !ok || !ok2 {
			t.Fatalf("at %d: found %v, near %v", at, ok, ok2)
		}
		if math.Abs(a.Frame-float64(at)) > 0.05 || math.Abs(a.Frame-b.Frame) > 0.02 {
			t.Errorf("at %d: Find says %.4f, Near %.4f", at, a.Frame, b.Frame)
		}
		if math.Abs(a.SNR/b.SNR-1) > 0.03 || math.Abs(a.Gain/0.3-1) > 0.1 {
			t.Errorf("at %d: SNR %.2f and %.2f, gain %.3f", at, a.SNR, b.SNR, a.Gain)
		}
	}
}
