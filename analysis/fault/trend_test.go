package fault

import (
	"math"
	"math/rand/v2"
	"testing"
)

// What has up to three swings in the run goes, what has seven and more stays.
func TestDetrend(t *testing.T) {
	const n = 6000
	for _, c := range []struct{ turns, least, most float64 }{
		{0.3, 0, 1e-5}, {1, 0, 1e-5}, {2.5, 0, 1e-5}, {3, 0, 1e-5}, {7, 0.9, 1.1}, {40, 0.97, 1.03}, {700, 0.99, 1.01},
	} {
		x := make([]float64, n)
		for i := range x {
			x[i] = math.Sin(2*math.Pi*c.turns*float64(i)/n + 1)
		}
		detrend(x, 2)
		// Hann's window, as for a spectrum, takes the ends out.
		sum, norm := 0.0, 0.0
		for i, v := range x {
			w := math.Pow(math.Sin(math.Pi*float64(i)/n), 4)
			sum += w * v * v
			norm += w / 2
		}
		if left := math.Sqrt(sum / norm); left < c.least || left > c.most {
			t.Errorf("%g turns: %g of the wave left, want %g to %g", c.turns, left, c.least, c.most)
		}
	}
}

// A beat error that changes slowly goes with the trend, and so does a parabola of
// many seconds.
func TestDetrendTakesSides(t *testing.T) {
	x := make([]float64, 5001)
	for i := range x {
		u := float64(i) / float64(len(x))
		side := 1e-3 * (1 + u)
		if i%2 == 1 {
			side = -side
		}
		x[i] = 300*u*u + side
	}
	detrend(x, 2)
	for i, v := range x {
		if math.Abs(v) > 1e-7 {
			t.Fatalf("value %d: %g s left", i, v)
		}
	}
}

func TestDetrendOfFewValues(t *testing.T) {
	for n := range 40 {
		x := make([]float64, n)
		for i := range x {
			x[i] = 5
		}
		detrend(x, 2)
		for _, v := range x {
			if n >= 8 && math.Abs(v) > 1e-9 || math.IsNaN(v) {
				t.Fatalf("%d values: %v", n, x)
			}
		}
	}
}

// A gap and a spike have no part in the trend.
func TestFlatten(t *testing.T) {
	x := make([]float64, 2000)
	for i := range x {
		x[i] = 1e-3 * float64(i)
		if i >= 700 && i < 900 {
			x[i] = math.NaN()
		}
	}
	x[500] += 7
	flatten(x, []int{500}, 2)
	for i, v := range x {
		switch {
		case i >= 700 && i < 900:
			if !math.IsNaN(v) {
				t.Fatalf("gap filled at %d: %g", i, v)
			}
		case i == 500:
			if math.Abs(v-7) > 1e-9 {
				t.Fatalf("spike: %g, want 7", v)
			}
		case math.Abs(v) > 1e-9:
			t.Fatalf("value %d: %g", i, v)
		}
	}
}

func TestFillGaps(t *testing.T) {
	nan := math.NaN()
	for _, c := range []struct {
		name   string
		x      []float64
		stride int
		want   []float64
	}{
		{"whole", []float64{1, 2, 3}, 1, []float64{1, 2, 3}},
		{"inside", []float64{1, nan, nan, 4}, 1, []float64{1, 2, 3, 4}},
		{"ends", []float64{nan, 2, 3, nan}, 1, []float64{2, 2, 3, 3}},
		{"nothing", []float64{nan, nan}, 1, []float64{0, 0}},
		{"empty", nil, 2, nil},
		{"sides", []float64{1, 10, nan, nan, 3, 14}, 2, []float64{1, 10, 2, 12, 3, 14}},
		{"one side", []float64{1, nan, 3, nan}, 2, []float64{1, 0, 3, 0}},
	} {
		fillGaps(c.x, c.stride)
		for i := range c.want {
			if c.x[i] != c.want[i] {
				t.Errorf("%s: %v, want %v", c.name, c.x, c.want)
				break
			}
		}
	}
}

func BenchmarkDetrend(b *testing.B) {
	r := rand.New(rand.NewPCG(1, 1))
	x := make([]float64, 144_000)
	for i := range x {
		x[i] = r.NormFloat64()
	}
	for b.Loop() {
		detrend(x, 2)
	}
}
