package beat

import (
	"iter"
	"math"
	"math/rand/v2"
	"strings"
	"testing"

	"rundown/dsp/wavio"
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

// heardIn returns the period, in seconds, of the beat found in samples, 0 where
// there is none, and what is said of them.
func heardIn(t *testing.T, rate int, x []float32) (period float64, said string) {
	t.Helper()
	_, report := run(t, wavio.FromSamples(rate, x), Options{})
	return report.Period, report.Heard + strings.Join(report.Problems, " ")
}

// A room that goes round and round is no clock, though everything in it comes
// evenly; a clock that does so still is one, and so are clicks that were made.
// Of the recordings at hand, ten rooms and four clocks are tried by default, each
// of them with -trials 6.
func TestBeatInALoop(t *testing.T) {
	if testing.Short() {
		t.Skip("skipped: many recordings")
	}
	const rate = 44100
	recordings(t)
	names, samples := clips(t)
	frames := func(i int) int { return rate * (11 + i*37%35) }
	for i, name := range some(names, 5**trials) {
		period, said := heardIn(t, rate, goRound(samples[i], frames(i)))
		if period > 0 || !strings.Contains(said, "round and round") && !strings.Contains(said, "clipped") {
			t.Errorf("%s: period %.4f s, %s", name, period, said)
		}
	}
	for i, c := range some(realClocks(t), 2**trials) {
		period, said := heardIn(t, rate, goRound(c.samples, frames(i)))
		if math.Abs(period/c.period-1) > c.tolerance || !strings.Contains(said, "round and round") {
			t.Errorf("%s: period %.4f s, want %.4f s; %s", c.name, period, c.period, said)
		}
	}
	for _, count := range []float64{3600, 18000, 28800} {
		const rate = 16000
		x := make([]float32, 32*rate)
		clicks(x, rate, count, 0.3, 0, rand.New(rand.NewPCG(1, 1)))
		if period, said := heardIn(t, rate, x); math.Abs(period*count/7200-1) > 1e-5 {
			t.Errorf("clicks of %g an hour: period %.6f s; %s", count, period, said)
		}
	}
}

// some returns so many of a list, evenly spaced, all where there are fewer, each at
// its place.
func some[T any](all []T, n int) iter.Seq2[int, T] {
	return func(yield func(int, T) bool) {
		for i, v := range all {
			if (i+1)*n/len(all) > i*n/len(all) && !yield(i, v) {
				return
			}
		}
	}
}

// A loop before the movement was started says nothing of it.
func TestBeatAfterALoop(t *testing.T) {
	const rate = 8000
	r := rand.New(rand.NewPCG(3, 4))
	x := append(goRound(hiss(3*rate, 0.01, r), 30*rate), hiss(150*rate, 0.01, r)...)
	clicks(x[30*rate:], rate, 18000, 0.2, 30e-6, r)
	if period, said := heardIn(t, rate, x); math.Abs(period/0.4-1) > 1e-4 || said != "" {
		t.Errorf("period %.5f s; %s", period, said)
	}
}

// TestFadesIntoTheRoom has beats that grow ever fainter: that each is less like what was
// learned, for what the room adds to it, does not say that it is none.
func TestFadesIntoTheRoom(t *testing.T) {
	const (
		rate, perHour, seconds = 48000, 18000., 120.
		fades, room            = 23., 0.01 // dB, RMS
	)
	r := rand.New(rand.NewPCG(21, 4))
	x := make([]float32, seconds*rate)
	clicks(x, rate, perHour, 0.3, 30e-6, r)
	noise := hiss(len(x), room, r)
	for i := range x {
		x[i] = x[i]*float32(math.Pow(10, -fades/20*float64(i)/seconds/rate)) + noise[i]
	}
	all, _ := run(t, wavio.FromSamples(rate, x), Options{})
	heard := 0
	for _, b := range all.Beats {
		if b.Heard && b.Time > seconds*2/3 {
			heard++
		}
	}
	if want := int(seconds / 3 * perHour / 3600 * 0.95); heard < want {
		t.Errorf("%d beats of the last third are heard, want %d", heard, want)
	}
}
