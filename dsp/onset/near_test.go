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
	m := NewMatcher(s, template, math.MaxInt, 0, 100)
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

// Where a sound rings slowly away, the maxima of its correlation are a cycle
// apart and nearly alike; which is the greatest must not hang on where between
// frames it lies.
func TestNoCycleIsSkipped(t *testing.T) {
	template := make([]float64, 240)
	for i := range template {
		s := float64(i) / testRate
		template[i] = math.Exp(-s/0.002) * math.Sin(2*math.Pi*7600*s)
	}
	m := NewMatcher(flat(t), template, math.MaxInt, 0, 100)
	for k := range 64 {
		at := 1000 + float64(k)/64
		x := make([]float32, 2400)
		for i := 1001; i < len(x); i++ {
			s := (float64(i) - at) / testRate
			x[i] = float32(math.Exp(-s/0.002) * math.Sin(2*math.Pi*7600*s))
		}
		a, ok := m.Find(x, 0, at+1, 20)
		b, ok2 := m.Near(x, 0, at+1, 20)
		if !ok || !ok2 || math.Abs(a.Frame-at) > 0.1 || math.Abs(b.Frame-at) > 0.1 {
			t.Errorf("a sound at %.3f: Find says %.3f, Near %.3f", at, a.Frame, b.Frame)
		}
	}
}

// A recorder of 16 000 frames a second keeps 7 kHz, of which it has hardly more than two
// frames a cycle. The mean of beats that lie anywhere between frames must not lose it, and
// each beat must be found where it is, not a cycle off.
func TestHighNotesOfASlowRecorder(t *testing.T) {
	const rate, beats = 16000, 40
	r := rand.New(rand.NewPCG(7, 8))
	x := make([]float32, rate*(beats+2)/5)
	for i := range x {
		x[i] = float32(0.02 * r.NormFloat64())
	}
	var marks []float64
	var starts []int
	for k := range beats {
		at := float64((k+1)*rate/5) + r.Float64()
		marks, starts = append(marks, at), append(starts, int(at))
		for i := int(at) + 1; i < int(at)+rate/50; i++ {
			s := (float64(i) - at) / rate
			x[i] += float32(0.1 * math.Exp(-s/0.002) * (math.Sin(2*math.Pi*7000*s) + 0.3*math.Sin(2*math.Pi*2900*s)))
		}
	}
	mean := NewAverage(16, 64)
	for _, at := range marks {
		if !mean.Add(x, at) {
			t.Fatal("a beat that is not held")
		}
	}
	m := NewMatcher(NewShaping(x, rate, starts, rate/100, rate/20), mean.Mean(), beats, 16, 32)
	for k, at := range marks {
		due := at + 3*r.NormFloat64()
		a, ok := m.Find(x, 0, due, 16)
		b, ok2 := m.Near(x, 0, due, 16)
		if !ok || !ok2 || math.Abs(a.Frame-at) > 0.2 || math.Abs(b.Frame-at) > 0.2 {
			t.Errorf("beat %d: Find is %.3f frames off, Near %.3f", k, a.Frame-at, b.Frame-at)
		}
	}
}
