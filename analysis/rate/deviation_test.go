package rate

import (
	"math"
	"math/rand/v2"
	"strconv"
	"testing"
)

// nine are the values of the short set in W. J. Riley, Handbook of Frequency
// Stability Analysis, NIST Special Publication 1065 (2008), test suite.
func nine() []float64 {
	return phaseOf([]float64{892, 809, 823, 798, 671, 644, 883, 903, 677}, 1)
}

// phaseOf returns the phase of fractional frequencies, each the mean over tau0
// seconds: one value more, the first 0.
func phaseOf(y []float64, tau0 float64) []float64 {
	x := make([]float64, len(y)+1)
	for i, v := range y {
		x[i+1] = x[i] + v*tau0
	}
	return x
}

// thousand are those of the long set: Park and Miller's generator.
func thousand() []float64 {
	y := make([]float64, 1000)
	n := int64(1234567890)
	for i := range y {
		y[i] = float64(n) / 2147483647
		n = 16807 * n % 2147483647
	}
	return phaseOf(y, 1)
}

// TestDeviationsAgainstHandbook checks every printed digit.
func TestDeviationsAgainstHandbook(t *testing.T) {
	for _, c := range []struct {
		name string
		of   Deviation
		x    []float64
		m    int
		want string
	}{
		{"overlapping of nine", OverlappingAllan, nine(), 1, "91.22945"},
		{"overlapping of nine", OverlappingAllan, nine(), 2, "85.95287"},
		{"modified of nine", ModifiedAllan, nine(), 1, "91.22945"},
		{"modified of nine", ModifiedAllan, nine(), 2, "74.78849"},
		{"time of nine", TimeDeviation, nine(), 1, "52.67135"},
		{"time of nine", TimeDeviation, nine(), 2, "86.35831"},
		{"overlapping of thousand", OverlappingAllan, thousand(), 1, "0.2922319"},
		{"overlapping of thousand", OverlappingAllan, thousand(), 10, "0.09159953"},
		{"overlapping of thousand", OverlappingAllan, thousand(), 100, "0.03241343"},
		{"modified of thousand", ModifiedAllan, thousand(), 1, "0.2922319"},
		{"modified of thousand", ModifiedAllan, thousand(), 10, "0.06172376"},
		{"modified of thousand", ModifiedAllan, thousand(), 100, "0.02170921"},
		{"time of thousand", TimeDeviation, thousand(), 1, "0.1687202"},
		{"time of thousand", TimeDeviation, thousand(), 10, "0.3563623"},
		{"time of thousand", TimeDeviation, thousand(), 100, "1.253382"},
	} {
		got, _ := c.of(c.x, 1, c.m)
		if s := strconv.FormatFloat(got, 'g', 7, 64); s != c.want {
			t.Errorf("%s at %d: %s, handbook %s", c.name, c.m, s, c.want)
		}
	}
}

// naiveModified is the definition, term by term.
func naiveModified(x []float64, tau0 float64, m int) (float64, int) {
	sum, n := 0., 0
	for j := 0; j+3*m <= len(x); j++ {
		d := 0.
		for i := j; i < j+m; i++ {
			d += x[i+2*m] - 2*x[i+m] + x[i]
		}
		if !math.IsNaN(d) {
			sum += d * d
			n++
		}
	}
	return math.Sqrt(sum/float64(n)/2) / (float64(m*m) * tau0), n
}

func TestModifiedAllanAgainstDefinition(t *testing.T) {
	rng := rand.New(rand.NewPCG(5, 0))
	x := make([]float64, 5000)
	for i := range x {
		if x[i] = rng.NormFloat64(); rng.IntN(400) == 0 {
			x[i] = math.NaN()
		}
	}
	for _, m := range []int{1, 2, 7, 50, 1500} {
		got, n := ModifiedAllan(x, 3, m)
		want, k := naiveModified(x, 3, m)
		if n != k || math.Abs(got-want) > 1e-9*want {
			t.Errorf("factor %d: %v of %d terms, by definition %v of %d", m, got, n, want, k)
		}
	}
}

// TestDeviationsLeaveOutMissing takes values out and expects nearly the same.
func TestDeviationsLeaveOutMissing(t *testing.T) {
	rng := rand.New(rand.NewPCG(6, 0))
	x := make([]float64, 20000)
	for i := range x {
		x[i] = rng.NormFloat64()
	}
	whole, n := OverlappingAllan(x, 1, 16)
	for i := range x {
		if i%10 == 3 {
			x[i] = math.NaN()
		}
	}
	part, k := OverlappingAllan(x, 1, 16)
	if k >= n || k < n/2 {
		t.Errorf("%d terms of %d left", k, n)
	}
	if math.Abs(part/whole-1) > 0.03 {
		t.Errorf("deviation %v with values missing, %v without", part, whole)
	}
	if sigma, terms := OverlappingAllan(x[:10], 1, 16); !math.IsNaN(sigma) || terms != 0 {
		t.Errorf("too short a series gave %v of %d terms", sigma, terms)
	}
}

func BenchmarkModifiedAllan(b *testing.B) {
	x := thousand()
	for len(x) < 30000 {
		x = append(x, x...)
	}
	for b.Loop() {
		ModifiedAllan(x, 1, 1000)
	}
}
