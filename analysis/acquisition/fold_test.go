package acquisition

import (
	"context"
	"math"
	"math/rand/v2"
	"testing"
)

// evenSounds returns noise in which something sounds every period, so loud.
func evenSounds(n int, period, phase, loud float64, r *rand.Rand) []float32 {
	x := make([]float32, n)
	for i := range x {
		x[i] = float32(r.NormFloat64())
	}
	for at := phase; at < float64(n-1); at += period {
		x[int(at)] += float32(loud)
	}
	return x
}

// Of periods from one whole number to the next, and phases, the fold that stands
// out most is that of what comes evenly: all of it, but for what lies on the edge
// between two values.
func TestFoldAround(t *testing.T) {
	r := rand.New(rand.NewPCG(5, 1))
	for range 20 {
		p := 20 + r.IntN(100)
		period, phase := float64(p)+r.Float64(), float64(p)*r.Float64()
		x := evenSounds(60*p, period, phase, 2, r)
		f := folder{x: x, scale: 2, sd: rms(x), fine: 500}
		c := f.around(p)
		if math.Abs(c.period/2-period) > 0.05 || math.Abs(math.Mod(c.phase/2-phase+1.5*period, period)-period/2) > 3 {
			t.Errorf("period %.2f from %.1f on: %.2f from %.1f on", period, phase, c.period/2, c.phase/2)
		}
		if c.z < 8 || c.z > 20 { // all 59 of twice the noise: 2 × √59 = 15.4
			t.Errorf("period %.2f: %.1f standard deviations", period, c.z)
		}
	}
}

// What comes evenly, and too faintly for a path, which may follow the noise, is the
// first of the folds, and its marks are where it sounds; a swell of the room is not.
func TestFolds(t *testing.T) {
	r := rand.New(rand.NewPCG(5, 2))
	const n, period, phase = 60_000, 1234.5, 321.0
	x := evenSounds(n, period, phase, 2.5, r)
	for i := range x {
		x[i] += float32(3 * math.Sin(2*math.Pi*float64(i)/7000))
	}
	s := &stretch{w: white{perSec: 20_000, x: make([]float32, 20*n), hz: 8000}, block: 20, envelope: x}
	found := s.folds(context.Background(), 100, 5000, 3)
	if len(found) != 3 || math.Abs(found[0].period/period-1) > 1e-3 {
		t.Fatalf("%+v, want a period of %g", found, period)
	}
	marks := s.evenly(period * 1.003)
	for i, m := range marks {
		if want := (phase + float64(i)*period) * s.block; math.Abs(m-want) > 5*s.block {
			t.Errorf("mark %d at %.0f, want %.0f", i, m, want)
		}
	}
	if len(marks) < 48 || len(marks) > 49 {
		t.Errorf("%d marks", len(marks))
	}
}
