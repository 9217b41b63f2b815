package beat

import (
	"fmt"
	"math"
	"math/rand/v2"
	"testing"

	"rundown/analysis/acquisition"
	"rundown/dsp/onset"
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
	e := learn(x, rate, h, nil)
	if scatter := e.sigma / rate; scatter > 45e-6 {
		t.Errorf("beats scatter by %.0f µs, of which 30 are the movement's", 1e6*scatter)
	}
	for s, v := range e.templates {
		if v.rho < 0.15 {
			t.Errorf("%v: beats are only %.2f alike", Side(s), v.rho)
		}
	}
}

func BenchmarkLearn(b *testing.B) {
	for _, seconds := range []float64{30, 120} {
		for _, snr := range []float64{12, 30} {
			b.Run(fmt.Sprintf("%.0fs/%.0fdB", seconds, snr), func(b *testing.B) {
				rec := movement(18000, seconds, snr)
				rec.Recorder.SampleRate = 48000
				x, rate, h := excerpt(b, rec)
				b.ReportAllocs()
				for b.Loop() {
					learn(x, rate, h, nil)
				}
			})
		}
	}
}

// TestRings: what is left of a beat is that of the side that rings longer, as late as its
// sounds may have moved, and no less than what comes after it.
func TestRings(t *testing.T) {
	means := [2][]float64{{1, 1, 11, 6, 3, 5, 2, 1}, {0, 0, 8, 2, 1, 0, 0, 0}}
	got := rings(means, 2, 1)
	want := []float64{1, 1, 0.5, 0.4, 0.4, 0.1}
	for i := range want {
		if math.Abs(got[i]-want[i]) > 1e-9 {
			t.Fatalf("%v, want %v", got, want)
		}
	}
}

// TestMarkStandsOutOfWhatRings has a beat of two sounds, the second of them three times as
// loud: it marks the beat, unless the first one still rings where it sets in.
func TestMarkStandsOutOfWhatRings(t *testing.T) {
	const rate, pre, ms = 48000, 960, 48.
	for _, c := range []struct {
		name string
		ring float64 // time in which the first sound rings away, s
		want int
	}{{"died away", 0.4e-3, 1}, {"rings on", 8e-3, 0}} {
		room := hiss(rate, 0.01, rand.New(rand.NewPCG(31, 7)))
		v := template{average: onset.NewAverage(pre, pre)}
		x := make([]float32, 4*pre)
		for _, sound := range []struct{ at, size, ring float64 }{{600, 0.1, c.ring}, {pre, 0.3, 0.8e-3}} {
			for i := int(sound.at); i < 2*pre; i++ {
				s := (float64(i) - sound.at) / rate
				x[i+pre] += float32(sound.size * math.Exp(-s/sound.ring) * math.Sin(2*math.Pi*3100*s))
			}
		}
		v.average.Add(x, 2*pre)
		v.contacts = []onset.Contact{{At: 600}, {At: pre}}
		if got := v.clearest(onset.NewShaping(room, rate, []int{rate / 2}, 48, 96), ms); got != c.want {
			t.Errorf("the first sound %s: sound %d marks the beat, want %d", c.name, got, c.want)
		}
	}
}
