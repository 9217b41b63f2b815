package export

import (
	"math"
	"math/rand/v2"
	"strconv"
	"testing"
)

// The standard library is the oracle, at ties and far beyond them.
func TestAppendFixedIsThatOfTheLibrary(t *testing.T) {
	numbers := []float64{0, math.Copysign(0, -1), 0.5, 1.5, 2.5, -0.125, -20.125, 0.0005, 1e-300, -1e-9, 1e15, 9007199254740993, -1e300, 0.1 + 0.2, 5e-10, 2.5e-12}
	random := rand.New(rand.NewPCG(1, 2))
	for range 20000 {
		numbers = append(numbers, (random.Float64()-0.5)*math.Pow(10, 14*random.Float64()-6), float64(random.IntN(20000)-10000)/2048)
	}
	for _, x := range numbers {
		for decimals := range powers {
			want := strconv.FormatFloat(x, 'f', decimals, 64)
			if got := string(appendFixed(nil, x, decimals)); got != want {
				t.Fatalf("%g with %d decimals is %q, want %q", x, decimals, got, want)
			}
		}
	}
}

func TestAppendFixedLeavesOutWhatIsNoNumber(t *testing.T) {
	for _, x := range []float64{math.NaN(), math.Inf(1), math.Inf(-1)} {
		if got := appendFixed(nil, x, 3); len(got) > 0 {
			t.Errorf("%g is %q", x, got)
		}
	}
}

func BenchmarkAppendFixed(b *testing.B) {
	var row []byte
	for b.Loop() {
		row = appendFixed(row[:0], 12345.123456789, 9)
	}
}

func BenchmarkAppendFloat(b *testing.B) {
	var row []byte
	for b.Loop() {
		row = strconv.AppendFloat(row[:0], 12345.123456789, 'f', 9, 64)
	}
}
