package beat

import (
	"math"
	"math/rand/v2"
	"slices"
	"testing"

	"rundown/dsp/synth"
)

// foldedBeats returns the period, in seconds, and the places of the two sides'
// beats, in parts of it, that folding the sound of a recording finds.
func foldedBeats(tb testing.TB, rec synth.Recording) (period float64, at [2]float64, ok bool) {
	tb.Helper()
	src := rec.Render()
	rate := float64(src.Format().SampleRate)
	x := make([]float32, int(rec.Duration*rate))
	n, err := readFull(src, [][]float32{x}, len(x))
	if n == 0 {
		tb.Fatal(err)
	}
	s := newSteady(x[:n], rate)
	p, at, ok := s.beats()
	if ok {
		at[0], at[1] = at[0]/p, at[1]/p
	}
	return p / s.perSec, at, ok
}

// Beats too deep in the noise to set in audibly add up.
func TestSteadyFindsBeats(t *testing.T) {
	if testing.Short() {
		t.Skip("skipped: many sounds are folded")
	}
	for _, c := range []struct {
		bph, tock, snr float64
		noise          string
		rate           int
	}{
		{18000, 0, 6, "white", 22050},
		{9000, 2, 12, "fire", 44100},
		{28800, -3, 12, "chainsaw", 16000},
	} {
		rec := movement(c.bph, 60, c.snr)
		rec.Sound.TockLevel = c.tock
		rec.Room.Noise = c.noise
		rec.Recorder.SampleRate = c.rate
		got, at, ok := foldedBeats(t, rec)
		want := 7200 / c.bph
		if !ok || math.Abs(got/want-1) > 2e-5 {
			t.Errorf("%g beats an hour in %s: period %.5f s (%v), want %.5f s", c.bph, c.noise, got, ok, want)
			continue
		}
		apart := math.Mod(at[1]-at[0]+1, 1)
		if off := math.Abs(apart-0.5) * want; off > 0.03*want+0.006 {
			t.Errorf("%g beats an hour in %s: sides %.4f of a period apart", c.bph, c.noise, apart)
		}
	}
}

// Neither tones nor machines, nor loud sounds at random, nor one stretch over and
// over are a beat.
func TestSteadyFindsNoBeat(t *testing.T) {
	if testing.Short() {
		t.Skip("skipped: many sounds are folded")
	}
	for _, room := range []string{"hum", "chainsaw", "dog", "music"} {
		if period, _, ok := foldedBeats(t, synth.Quiet(room, 3, 60, 16000)); ok {
			t.Errorf("%s: a beat of period %.4f s", room, period)
		}
	}
	x := make([]float32, 5*22050)
	n, _ := readFull(synth.Quiet("speech", 4, 5, 22050).Render(), [][]float32{x}, len(x))
	if _, _, ok := newSteady(slices.Repeat(x[:n], 12), 22050).beats(); ok {
		t.Error("a beat in speech over and over")
	}
}

// The sums of blocks make up the autocorrelation.
func TestRepeats(t *testing.T) {
	noise := newNoise(9)
	s := &steady{x: make([]float32, 1000)}
	for i := range s.x {
		s.x[i] = noise()
	}
	for lag, got := range s.repeats(150) {
		var want float64
		for i, v := range s.x[lag:] {
			want += float64(v * s.x[i])
		}
		if want /= math.Sqrt(float64(len(s.x) - lag)); math.Abs(got-want) > 1e-4 {
			t.Fatalf("%.5f at lag %d, want %.5f", got, lag, want)
		}
	}
}

// Two sides that sound differently are told from one that sounds twice, also where
// the period is no whole number of samples.
func TestAlternation(t *testing.T) {
	half := 1378.497
	for _, c := range []struct {
		first, hz float64 // where the first beat is, and at what the other side rings
		want      bool
	}{{300, 4500, false}, {700, 4500, false}, {1200, 4500, false}, {300, 3800, true}, {1200, 3800, true}} {
		s := &steady{x: make([]float32, 660_000), perSec: 11025}
		noise := newNoise(5)
		for i := range s.x {
			s.x[i] = noise()
		}
		for k := range 470 {
			at, hz := c.first+float64(k)*half, 4500.0
			if k%2 == 1 {
				hz = c.hz
			}
			for i := int(at) + 1; i < int(at)+40; i++ {
				d := (float64(i) - at) / s.perSec
				s.x[i] += 2 * float32(math.Sin(2*math.Pi*hz*d)*math.Exp(-d/0.001))
			}
		}
		f := s.fold(int(2 * half))
		if got := s.alternation(f); (got > leastAlternation) != c.want {
			t.Errorf("beats from %g on, of 4500 and %g Hz: alternation %.3f", c.first, c.hz, got)
		}
	}
}

// A few loud sounds that come a period apart make a large sum. They are not
// there throughout.
func TestSteadyThroughout(t *testing.T) {
	s := &steady{x: make([]float32, 120_000), perSec: 12000}
	noise := newNoise(7)
	for i := range s.x {
		s.x[i] = noise()
	}
	put := func(at int) {
		for i := range s.span() {
			s.x[at+i] += 3 * float32(math.Sin(float64(i)))
		}
	}
	at := [2]float64{500, 2600}
	for k := range 4 {
		put(500 + 4000*k)
	}
	if p := s.throughout(4000, at); p < -10 {
		t.Errorf("ln P = %.1f of four sounds in 59 places", p)
	}
	for k := range 29 {
		put(500 + 4000*k)
		put(2600 + 4000*k)
	}
	if p := s.throughout(4000, at); p > mostByChance {
		t.Errorf("ln P = %.1f of a sound in every place", p)
	}
}

// Beats in a loud moment count less than others, all in a quiet room alike.
func TestWeight(t *testing.T) {
	const rate = 8000
	x := make([]float32, 10*rate)
	noise := newNoise(8)
	var starts []int
	for i := range x {
		x[i] = 0.01 * noise()
		if i > 5*rate && i < 6*rate {
			x[i] *= 10
		}
		if i%1000 == 0 {
			starts = append(starts, i)
		}
	}
	l := &learner{x: x, rate: rate, block: 8}
	l.weigh(starts)
	if w := l.weight(3 * rate); w != 1 {
		t.Errorf("weight %.3f in the quiet", w)
	}
	if w := l.weight(5.5 * rate); w < 0.02 || w > 0.05 {
		t.Errorf("weight %.3f where the power is a hundred times the usual, want 0.03", w)
	}
}

// newNoise returns a source of white noise of variance 1.
func newNoise(seed uint64) func() float32 {
	r := rand.New(rand.NewPCG(seed, 93))
	return func() float32 { return float32(r.NormFloat64()) }
}

func BenchmarkSteady(b *testing.B) {
	rec := movement(18000, 120, 6)
	x := make([]float32, 120*48000)
	if _, err := readFull(rec.Render(), [][]float32{x}, len(x)); err != nil {
		b.Fatal(err)
	}
	b.ReportAllocs()
	for b.Loop() {
		newSteady(x, 48000).beats()
	}
}
