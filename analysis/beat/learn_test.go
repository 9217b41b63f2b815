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

// TestBetterMarks has beats on one note, some of which another pair of marks places a cycle early:
// the ones that lay all of them over each other are taken.
func TestBetterMarks(t *testing.T) {
	const rate, beats, cycle = 48000, 40, 48000 / 3200.
	x := hiss(rate*(beats+2)/8, 0.01, rand.New(rand.NewPCG(31, 8)))
	var right, slipped []float64
	for n := range beats {
		at := float64((n + 1) * rate / 8)
		for i := range 200 {
			x[int(at)+i] += float32(0.3 * math.Exp(-float64(i)/40) * math.Sin(2*math.Pi*float64(i)/cycle))
		}
		right, slipped = append(right, at), append(slipped, at-cycle*float64(n%3/2))
	}
	l := &learner{x: x, rate: rate, block: 48, period: rate / 4, shaping: onset.NewShaping(x, rate, inOrder([2][]float64{right}), 480, 960)}
	l.weigh(inOrder([2][]float64{right}))
	for _, marks := range [][2][]float64{{right, slipped}, {slipped, right}} {
		if got := l.better(marks[0], marks[1]); got[2] != right[2] {
			t.Error("marks that are a cycle off are taken")
		}
	}
	if snr := l.heard(l.matcher(right, 20), right); snr < 10 {
		t.Errorf("heard at a signal-to-noise ratio of %.1f", snr)
	}
	if snr := l.heard(l.matcher(right, 20), later(right, rate/16)); snr > 4 {
		t.Errorf("heard at a signal-to-noise ratio of %.1f where there is nothing", snr)
	}
}

// TestMarkStandsOutOfWhatRings has a beat of two sounds, the second of them three times as
// loud: it marks the beat, unless the first one still rings where it sets in; but not even then the
// first one does, where the second comes so soon, and sounds so much like it, that it would be taken
// for it.
func TestMarkStandsOutOfWhatRings(t *testing.T) {
	const rate, pre, ms = 48000, 960, 48.
	for _, c := range []struct {
		name string
		ring float64 // time in which the first sound rings away, s
		at   float64 // where it sets in, frames
		want int
	}{{"died away", 0.4e-3, 600, 1}, {"rings on", 8e-3, 600, 0}, {"rings on, shortly before the second", 8e-3, pre - 1.3*ms, 1}} {
		room := hiss(rate, 0.01, rand.New(rand.NewPCG(31, 7)))
		v := template{average: onset.NewAverage(pre, pre)}
		x := make([]float32, 4*pre)
		for _, sound := range []struct{ at, size, ring float64 }{{c.at, 0.1, c.ring}, {pre, 0.3, 0.8e-3}} {
			for i := int(sound.at); i < 2*pre; i++ {
				s := (float64(i) - sound.at) / rate
				x[i+pre] += float32(sound.size * math.Exp(-s/sound.ring) * math.Sin(2*math.Pi*3100*s))
			}
		}
		v.average.Add(x, 2*pre)
		v.contacts = []onset.Contact{{At: c.at}, {At: pre}}
		if got := v.clearest(onset.NewShaping(room, rate, []int{rate / 2}, 48, 96), ms); got != c.want {
			t.Errorf("the first sound %s: sound %d marks the beat, want %d", c.name, got, c.want)
		}
	}
}
