package acquisition

import (
	"context"
	"math"
	"math/rand/v2"
	"testing"

	"rundown/dsp/synth"
)

// stretchOf renders a recording of one channel.
func stretchOf(tb testing.TB, rec synth.Recording) (x []float32, rate float64) {
	tb.Helper()
	src := rec.Render()
	rate = float64(src.Format().SampleRate)
	x = make([]float32, int(rec.Duration*rate))
	for n := 0; n < len(x); {
		k, err := src.Read([][]float32{x[n:]})
		if n += k; err != nil {
			return x[:n], rate
		}
	}
	return x, rate
}

// A beat is found at its count, with the odds, from few and from many beats an
// hour, near to and deep in the noise.
func TestFind(t *testing.T) {
	for _, c := range []struct{ perHour, snr, tock, beatError float64 }{
		{3600, 20, 0, 0.001}, {5400, 12, 3, 0.02}, {18000, 6, 0, 0.0005}, {18000, 20, -8, 0.002}, {28800, 8, 2, 0.001}, {36000, 12, 0, 0.0003},
	} {
		rec := synth.Recording{Seed: 7, Duration: 30}
		rec.Movement.BeatsPerHour, rec.Movement.BeatError = c.perHour, c.beatError
		rec.Sound.TockLevel, rec.Room.SNR, rec.Recorder.SampleRate = c.tock, c.snr, 16000
		x, rate := stretchOf(t, rec)
		h := Find(context.Background(), x, rate, Options{})
		if h == nil {
			t.Errorf("%+v: no beat", c)
			continue
		}
		want := 7200 / c.perHour * rate
		if math.Abs(h.Period/want-1) > 2e-3 || h.Odds < 2 {
			t.Errorf("%+v: period %.4f s at odds of 10^%.1f", c, h.Period/rate, h.Odds)
		}
	}
}

// Noise is no beat, and neither is what never changes; a search ends with its
// context.
func TestFindsNothing(t *testing.T) {
	r := rand.New(rand.NewPCG(3, 1))
	noise, still := make([]float32, 30*16000), make([]float32, 30*16000)
	for i := range noise {
		noise[i], still[i] = float32(0.01*r.NormFloat64()), 0.5
	}
	for name, x := range map[string][]float32{"noise": noise, "a constant": still, "nothing": nil, "little": noise[:100], "half a second": noise[:8000]} {
		if h := Find(context.Background(), x, 16000, Options{}); h != nil {
			t.Errorf("%s: a period of %.4f s", name, h.Period/16000)
		}
		FindLoop(x, 16000, 16)
	}
	ended, end := context.WithCancel(context.Background())
	end()
	rec := synth.Recording{Seed: 7, Duration: 30}
	rec.Movement.BeatsPerHour, rec.Room.SNR, rec.Recorder.SampleRate = 18000, 30, 16000
	if x, rate := stretchOf(t, rec); Find(ended, x, rate, Options{}) != nil {
		t.Error("a beat after the context ended")
	}
}

// A path follows sounds that come late for good.
func TestPath(t *testing.T) {
	x := make([]float32, 10_000)
	var want []int
	for at, k := 50, 0; at < len(x)-5; k++ {
		want = append(want, at)
		x[at] = 2
		if at += 200; k%7 == 6 {
			at += 6
		}
	}
	got := path(x, 201, math.MaxInt)
	if len(got) != len(want) {
		t.Fatalf("%d places, want %d", len(got), len(want))
	}
	for i, v := range got {
		if v != want[i] {
			t.Fatalf("place %d is %d, want %d", i, v, want[i])
		}
	}
}

// Evidence is limited by its own scatter.
func TestEvidence(t *testing.T) {
	zero := make([]float64, 10)
	for _, c := range []struct {
		a    []float64
		want float64
	}{
		{[]float64{1, 1, 1, 1, 1, 1, 1, 1, 1, 1.001}, 10},
		{[]float64{100, -100, 100, -100, 100, -100, 100, -100, 100, -100}, 0},
		{[]float64{-1, -1, -1, -1, -1, -1, -1, -1, -1, -1.001}, -10},
		// Mean 0.6, variance 4.27, t² = 0.844.
		{[]float64{3, -1, 3, -1, 3, -1, 3, -1, -1, -1}, 5 * math.Log1p(0.844/9)},
	} {
		if got := evidence(c.a, zero); math.Abs(got-c.want) > 0.05 {
			t.Errorf("%v: %.3f, want %.3f", c.a, got, c.want)
		}
	}
}

func BenchmarkFind(b *testing.B) {
	rec := synth.Recording{Seed: 7, Duration: 120}
	rec.Movement.BeatsPerHour, rec.Room.SNR, rec.Recorder.SampleRate = 18000, 10, 48000
	x, rate := stretchOf(b, rec)
	for b.Loop() {
		Find(context.Background(), x, rate, Options{})
	}
}
