package beat

import (
	"fmt"
	"math"
	"testing"

	"rundown/analysis/acquisition"
	"rundown/dsp/synth"
)

// excerpt returns one channel of a recording, and the beat in it.
func excerpt(tb testing.TB, rec synth.Recording) (x []float32, rate float64, h *acquisition.Hypothesis) {
	tb.Helper()
	src := rec.Render()
	rate = float64(src.Format().SampleRate)
	x = make([]float32, int(rec.Duration*rate))
	n, err := readFull(src, [][]float32{x}, len(x))
	if n == 0 {
		tb.Fatal(err)
	}
	x = x[:n]
	if h = acquisition.Find(tb.Context(), x, rate, acquisition.Options{}); h == nil {
		tb.Fatal("no beat")
	}
	return x, rate, h
}

// The strongest onset is now of one sound of the beat, now of another. All beats
// must come to be marked by the same one, or they scatter.
func TestLearnMarksBeatsByOneSound(t *testing.T) {
	rec := synth.Random(5015, 30, 20)
	rec.Movement.Mainspring.RunTime = 28800
	x, rate, h := excerpt(t, rec)
	e, _ := learn(x, rate, h, nil)
	if scatter := e.sigma / rate; scatter > 45e-6 {
		t.Errorf("beats scatter by %.0f µs, of which 30 are the movement's", 1e6*scatter)
	}
	for s, v := range e.voice {
		if v.rho < 0.15 {
			t.Errorf("%v: beats are only %.2f alike", Side(s), v.rho)
		}
	}
}

// Where one side's unlocking is lost in the room, the other side shows the lift,
// and impulse and drop are not taken for it.
func TestLearnFindsTheLift(t *testing.T) {
	cases := []struct {
		name    string
		seed    uint64
		seconds float64
		lift    float64 // ms
	}{
		{"weak unlocking of the tick", 422, 30, 7.48},
		{"likewise, at a low sample rate", 446, 30, 4.99},
		{"impulse and drop alike on both sides", 430, 120, 17.44},
	}
	for _, c := range cases {
		rec := synth.Random(c.seed, c.seconds, 20)
		rec.Movement.Mainspring.RunTime = 28800
		x, rate, h := excerpt(t, rec)
		e, _ := learn(x, rate, h, nil)
		if got := 1000 * e.lift / rate; math.Abs(got-c.lift) > 0.08*c.lift {
			t.Errorf("%s: lift of %.2f ms, want %.2f", c.name, got, c.lift)
		}
	}
}

func BenchmarkLearn(b *testing.B) {
	for _, seconds := range []float64{30, 120} {
		for _, snr := range []float64{12, 30} {
			b.Run(fmt.Sprintf("%.0fs/%.0fdB", seconds, snr), func(b *testing.B) {
				x, rate, h := excerpt(b, movement(18000, seconds, snr))
				b.ReportAllocs()
				for b.Loop() {
					learn(x, rate, h, nil)
				}
			})
		}
	}
}
