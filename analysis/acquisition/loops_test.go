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

// clicks returns so many seconds of silence in which short clicks come evenly.
func clicks(seconds, rate, every float64) []float32 {
	x := make([]float32, int(seconds*rate))
	for i := range x {
		_, since := math.Modf(float64(i) / rate / every)
		x[i] = float32(0.2 * math.Exp(-since*every/0.003) * math.Sin(2*math.Pi*3000*since*every))
	}
	return x
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
	for i, v := range clicks(30, rate, 1.03) {
		under[i] += v
	}
	even := clicks(30, rate, 0.2)
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
		{"clicks that were made", even, rate / 5, true},
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
	for i, v := range clicks(30, rate, 0.2) {
		x[i] += v
	}
	b.SetBytes(int64(4 * len(x)))
	for b.Loop() {
		FindLoop(x, rate, 48)
	}
}
