package acquisition

import (
	"math"
	"math/rand/v2"
	"testing"
)

// goRound repeats a clip to so many samples.
func goRound(clip []float32, n int) []float32 {
	x := make([]float32, 0, n+len(clip))
	for len(x) < n {
		x = append(x, clip...)
	}
	return x[:n]
}

// hiss returns n samples of white noise.
func hiss(n int, rms float64, r *rand.Rand) []float32 {
	x := make([]float32, n)
	for i := range x {
		x[i] = float32(rms * r.NormFloat64())
	}
	return x
}

// dither adds the rounding to 16 bits, with noise of a triangular distribution.
func dither(x []float32, r *rand.Rand) {
	for i, v := range x {
		x[i] = float32(math.Round(float64(v)/rounding+r.Float64()+r.Float64()-1) * rounding)
	}
}

// clicks adds to x short clicks at a number of beats an hour, tick and tock nearly
// alike and exactly evenly but for some jitter, in seconds. Their peak is about
// the given one.
func clicks(x []float32, rate, beatsPerHour, peak, jitter float64, r *rand.Rand) {
	for i := 0; ; i++ {
		start := 0.05 + float64(i)*3600/beatsPerHour + jitter*r.NormFloat64()
		if start*rate >= float64(len(x)) {
			return
		}
		for c, after := range []float64{0, 0.004, 0.010} {
			hz := 3000 + 400*float64(c) + 150*float64(i%2)
			first := math.Ceil((start + after) * rate)
			for j := int(first); j < min(len(x), int(first+0.03*rate)); j++ {
				t := float64(j)/rate - start - after
				x[j] += float32(peak * []float64{0.5, 0.6, 1}[c] * math.Exp(-t/0.003) * math.Sin(2*math.Pi*hz*t))
			}
		}
	}
}

func TestFindLoop(t *testing.T) {
	const rate = 8000
	r := rand.New(rand.NewPCG(1, 2))
	room := hiss(5*rate+3, 0.05, r)
	bark := make([]float32, 5*rate)
	copy(bark[rate:], hiss(rate/2, 0.2, r))
	dithered := goRound(room, 30*rate)
	dither(dithered, r)
	under := goRound(room, 30*rate)
	clicks(under, rate, 3600, 0.2, 30e-6, r)
	even := make([]float32, 30*rate)
	clicks(even, rate, 18000, 0.2, 0, r)
	dither(even, r)
	most := append(hiss(20*rate, 0.05, r), make([]float32, 5*rate)...)
	copy(most[20*rate:], most)
	tests := []struct {
		name   string
		x      []float32
		turn   int // frames
		sparse bool
	}{
		{"noise", hiss(30*rate, 0.05, r), 0, false},
		{"nothing", nil, 0, false},
		{"silence", make([]float32, 30*rate), 0, false},
		{"noise of one step", hiss(30*rate, rounding, r), 0, false},
		{"a room", goRound(room, 30*rate), len(room), false},
		{"a room, rounded anew", dithered, len(room), false},
		{"less than two turns", most, 20 * rate, false},
		{"once and a tenth of a second", goRound(room, len(room)+rate/10), 0, false},
		{"a bark in silence", goRound(bark, 30*rate), len(bark), true},
		{"beats over a room", under, 0, false},
		{"clicks that were made", even, rate * 2 / 5, true},
	}
	for _, test := range tests {
		l := FindLoop(test.x, rate, 8)
		if l.Frames != test.turn || l.Sparse() != test.sparse {
			t.Errorf("%s: a turn of %d frames, sparse %t; want %d, %t", test.name, l.Frames, l.Sparse(), test.turn, test.sparse)
		}
	}
}

func BenchmarkFindLoop(b *testing.B) {
	const rate = 48000
	x := hiss(30*rate, 0.001, rand.New(rand.NewPCG(1, 2)))
	clicks(x, rate, 18000, 0.1, 30e-6, rand.New(rand.NewPCG(1, 2)))
	b.SetBytes(int64(4 * len(x)))
	for b.Loop() {
		FindLoop(x, rate, 48)
	}
}
