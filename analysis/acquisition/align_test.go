package acquisition

import (
	"math"
	"math/rand/v2"
	"slices"
	"testing"

	"rundown/dsp/stats"
)

// rustle returns what whiten makes of a quiet room.
func rustle(seconds float64, seed uint64) *white {
	const rate = 48000
	r := rand.New(rand.NewPCG(seed, 2))
	x := make([]float32, int(seconds*rate))
	for i := range x {
		x[i] = float32(0.01 * r.NormFloat64())
	}
	w := whiten(x, rate)
	return &w
}

// TestRowBetweenSamples copies sounds of the band from places between samples.
func TestRowBetweenSamples(t *testing.T) {
	w := rustle(1, 3)
	for _, hz := range []float64{1000, 5000, 9000} {
		turn := 2 * math.Pi * hz / w.perSec
		for i := range w.x {
			w.x[i], w.half[i] = float32(math.Sin(turn*float64(i))), float32(math.Sin(turn*(float64(i)+0.5)))
		}
		row, worst := make([]float32, 400), 0.0
		for k := range 50 {
			at := 1000 + 0.37*float64(k)
			if !w.row(row, at) {
				t.Fatal("a row that is not held")
			}
			for i, v := range row {
				worst = max(worst, math.Abs(float64(v)-math.Sin(turn*(at+float64(i)))))
			}
		}
		if worst > 0.12 {
			t.Errorf("%g Hz: off by %.3f of its amplitude", hz, worst)
		}
	}
}

// TestClean frees the mean of twenty faint beats of the room: what is left is more like their
// sound. Of noise alone, next to nothing is left.
func TestClean(t *testing.T) {
	const beats, pre = 20, 120
	r := rand.New(rand.NewPCG(4, 5))
	w := rustle(8, 4)
	sound := make([]float64, 80)
	for i := range sound {
		s := float64(i) / w.perSec
		sound[i] = math.Exp(-s/0.001) * math.Sin(2*math.Pi*3100*s)
	}
	loud := 2 * rms(w.x)
	var marks []float64
	for k := range beats {
		at := int(w.perSec*(0.2+0.35*float64(k))) + r.IntN(9)
		marks = append(marks, float64(at))
		for i, v := range sound {
			w.x[at+i] += float32(loud * v)
		}
	}
	like := func(t []float32) float64 {
		var s, x, y float64
		for i, v := range sound {
			s += v * float64(t[pre+i])
			x += v * v
		}
		for _, v := range t {
			y += float64(v) * float64(v)
		}
		return s / math.Sqrt(x*y)
	}
	plain, row := make([]float32, 410), make([]float32, 410)
	for _, m := range marks {
		w.row(row, m-pre)
		add(plain, 1, row)
	}
	if before, after := like(plain), like(w.mean(marks, pre, 410)); after < before+0.1 {
		t.Errorf("the mean is like the sound by %.2f, and by %.2f as it was", after, before)
	}
	noise := rustle(8, 6)
	var left []float64
	for k := range 10 {
		for i := range marks {
			marks[i] += 40 * float64(k+1)
		}
		mean := noise.mean(marks, pre, 410)
		left = append(left, float64(dot(mean, mean))/beats)
	}
	if m := stats.Median(left); m > 0.3 {
		t.Errorf("of noise, %.2f of its power is left", m)
	}
}

// TestAlong finds beats that single ones do not tell from the room, of a movement that is
// steady, where their places are known to some milliseconds.
func TestAlong(t *testing.T) {
	const beats, loud = 50, 1.25
	sound := func(s float64) (x float64) {
		for _, hz := range []float64{2300, 4100, 6700} {
			x += loud * math.Exp(-s/0.0007) * math.Sin(2*math.Pi*hz*s)
		}
		return x
	}
	alone, along := 0, 0
	for k := range uint64(10) {
		w := rustle(20, 40+k)
		room := rms(w.x)
		var coarse, truth []float64
		for i := range beats {
			at := 6000 + math.Floor(0.35*w.perSec*float64(i))
			truth = append(truth, at)
			coarse = append(coarse, at+50-40*float64(i)/beats)
			for j := range 80 {
				w.x[int(at)+j] += float32(room * sound(float64(j)/w.perSec))
				w.half[int(at)+j] += float32(room * sound((float64(j)+0.5)/w.perSec))
			}
		}
		found := func(given bool) int {
			marks := w.align(slices.Clone(coarse), given).marks
			off := make([]float64, beats)
			for i, m := range marks {
				off[i] = m - truth[i]
			}
			middle := stats.Median(off)
			for i := range off {
				off[i] = math.Abs(off[i] - middle)
			}
			if w.even(w.placing(marks), plainly) && stats.Median(off) < 2 {
				return 1
			}
			return 0
		}
		alone, along = alone+found(false), along+found(true)
	}
	if along < 8 || alone > along/2 {
		t.Errorf("%d of 10 found along a line, %d without", along, alone)
	}
}
