package beat

import (
	"math"
	"math/rand/v2"
	"testing"

	"rundown/dsp/synth"
	"rundown/dsp/wavio"
)

// stretch makes what one band of a stretch of sound looks like: beats of given
// strengths at given places within a period, in noise. All times are in blocks
// of a millisecond.
func stretch(blocks int, period float64, at, strength [2]float64, noise float64, seed uint64) Band {
	r := rand.New(rand.NewPCG(seed, 7))
	b := Band{
		Energy: make([]float32, blocks), Floor: make([]float32, blocks), Strength: make([]float32, blocks),
	}
	for i := range b.Energy {
		b.Energy[i] = float32(1 + 0.3*math.Abs(r.NormFloat64()))
		b.Floor[i] = 1
		b.Strength[i] = float32(max(0, noise*r.NormFloat64()))
	}
	for start := 40.0; start < float64(blocks); start += period {
		for s := range at {
			i := int(start + at[s] + 0.1*r.NormFloat64() + 0.5)
			if i >= 0 && i+1 < blocks && strength[s] > 0 {
				b.Strength[i] += float32(strength[s])
				b.Energy[i] *= float32(math.Exp(strength[s]))
				b.Energy[i+1] = b.Energy[i]
			}
		}
	}
	return b
}

func TestFindCadence(t *testing.T) {
	cases := []struct {
		name         string
		period       float64 // blocks
		tock         float64 // part of the period
		strengths    [2]float64
		noise        float64
		deep, absent bool
	}{
		{"in beat", 400, 0.5, [2]float64{2, 2}, 0.1, false, false},
		{"a little out of beat", 400, 0.51, [2]float64{2, 1.5}, 0.1, false, false},
		{"1 to 2", 400, 1. / 3, [2]float64{2, 2}, 0.1, false, false},
		{"2 to 1, unequal", 250, 2. / 3, [2]float64{2.5, 1.2}, 0.1, false, false},
		{"slowest", 6000, 0.5, [2]float64{2, 2}, 0.1, false, false},
		{"fastest", 167, 0.5, [2]float64{2, 2}, 0.1, false, false},
		{"tock weak", 400, 0.48, [2]float64{2.5, 0.5}, 0.1, false, false},
		{"deep in noise", 503.3, 0.5, [2]float64{0.9, 0.7}, 0.35, true, false},
		{"noise alone", 400, 0.5, [2]float64{}, 0.4, true, true},
		{"twice as fast as any movement", 70, 0.5, [2]float64{2, 2}, 0.1, false, true},
	}
	for _, c := range cases {
		b := stretch(120_000, c.period, [2]float64{0, c.tock * c.period}, c.strengths, c.noise, 11)
		got, ok := FindCadence([]Band{b}, 1000, c.deep)
		if ok == c.absent {
			t.Errorf("%s: found %v (%+v)", c.name, ok, got)
			continue
		}
		if ok && math.Abs(got.Period/c.period-1) > 1e-3 {
			t.Errorf("%s: period %.2f blocks, want %.2f", c.name, got.Period, c.period)
		}
		if d := math.Mod(got.Phase[1]-got.Phase[0]+2*got.Period, got.Period) / got.Period; ok && min(math.Abs(d-c.tock), math.Abs(1-d-c.tock)) > 0.02 {
			t.Errorf("%s: tock %.3f of the period after tick, want %.3f", c.name, d, c.tock)
		}
	}
}

func TestSearchFolds(t *testing.T) {
	for _, lag := range []float64{95.3, 200, 437.7, 1001, 2990} {
		b := stretch(120_000, lag, [2]float64{}, [2]float64{0.9, 0}, 0.35, 3)
		f := searchFolds(b.Strength, 1000)
		if math.Abs(f.lag/lag-1) > 2e-3 || f.z < leastFold {
			t.Errorf("lag %.2f (%.1f standard deviations), want %.2f", f.lag, f.z, lag)
		}
	}
}

// The Kalman filter foretells an even beat as well as a straight line through
// the last beats does, tells the sides apart, and knows how well it does.
func TestKalman(t *testing.T) {
	r := rand.New(rand.NewPCG(5, 6))
	const tau, b, sigma = 9600, 35.0, 1.4
	k := newKalman(0, tau*1.001, 0, sigma, tau*0.002)
	var sum, promised float64
	for n := 1; n < 4000; n++ {
		k.step(1)
		v := n % 2
		at := tau*float64(n) + float64(v)*b
		due, sd := k.expect(v)
		z := at + sigma*r.NormFloat64()
		if n > 500 {
			sum += (z - due) * (z - due)
			promised += sd * sd
		}
		k.update(v, z)
	}
	if rms := math.Sqrt(sum / 3499); rms > 1.08*sigma {
		t.Errorf("foretells to %.3f frames, where single beats scatter by %.1f", rms, sigma)
	}
	if ratio := sum / promised; ratio < 0.85 || ratio > 1.15 {
		t.Errorf("its variance is %.2f times what it says", ratio)
	}
	if math.Abs(k.b-b) > 0.5 || math.Abs(k.tau-tau) > 0.02 {
		t.Errorf("interval %.3f, offset %.2f, want %d and %.1f", k.tau, k.b, tau, b)
	}
}

func TestRunningMedian(t *testing.T) {
	var m running
	if m.median() != 0 {
		t.Error("a median of nothing")
	}
	for i := range 100 {
		m.add(float64(i))
	}
	if got := m.median(); got != 84 {
		t.Errorf("median of the last 31 of 0 … 99 is %g, want 84", got)
	}
}

func BenchmarkFindCadence(b *testing.B) {
	s := stretch(60_000, 400, [2]float64{0, 200}, [2]float64{2, 2}, 0.1, 1)
	for b.Loop() {
		FindCadence([]Band{s}, 1000, false)
	}
}

func BenchmarkSearchFolds(b *testing.B) {
	s := stretch(120_000, 400, [2]float64{0, 200}, [2]float64{1, 1}, 0.3, 1)
	for b.Loop() {
		searchFolds(s.Strength, 1000)
	}
}

// However a stretch comes, each of its blocks is heard the same, but for the
// loudness of the room, of which the end of a piece knows no future.
func TestHearingInPieces(t *testing.T) {
	const rate = 44100
	x := make([]float32, 40*rate)
	if _, err := readFull(movement(18000, 40, 30).Render(), [][]float32{x}, len(x)); err != nil {
		t.Fatal(err)
	}
	whole, parts := hear(x, rate), newHearing(rate)
	for _, n := range []int{7 * rate, 19*rate + 17, len(x)} {
		parts.listen(x[:n])
	}
	const dropped = 5000
	parts.forget(dropped)
	for i, b := range parts.bands {
		want := whole[i]
		if len(b.Energy) != len(want.Energy)-dropped || len(b.Strength) != len(b.Energy) || len(b.Floor) != len(b.Energy) {
			t.Fatalf("band %d: %d blocks, want %d", i, len(b.Energy), len(want.Energy)-dropped)
		}
		unlike := 0
		for j := range b.Energy {
			if math.Abs(float64(b.Strength[j]-want.Strength[dropped+j])) > 0.1 {
				unlike++
			}
			if math.Abs(float64(b.Energy[j]/want.Energy[dropped+j]-1)) > 0.01 {
				t.Fatalf("band %d: energy of block %d is %g, want %g", i, j, b.Energy[j], want.Energy[dropped+j])
			}
		}
		if unlike > len(b.Energy)/1000 {
			t.Errorf("band %d: %d of %d strengths differ", i, unlike, len(b.Energy))
		}
	}
}

// Dilating and folding give what their definitions say.
func TestDilateAndFold(t *testing.T) {
	r := rand.New(rand.NewPCG(3, 4))
	for _, n := range []int{0, 1, 2, 3, 4, 9, 100} {
		x := make([]float32, n)
		for i := range x {
			x[i] = r.Float32()
		}
		for i, got := range dilate(x) {
			var want float32
			for j, v := range x {
				want = max(want, v*(1-float32(math.Abs(float64(i-j)))/4))
			}
			if got != want {
				t.Errorf("%d values: value %d dilated is %g, want %g", n, i, got, want)
			}
		}
	}
	x := []float32{1, 2, 3, 4, 5, 6, 7, 8, 9, 10}
	for i, want := range []float64{(1 + 4 + 8) / 3., (2 + 5 + 9) / 3., (3 + 6 + 10) / 3., (4 + 7) / 2.} {
		if got := fold(x, 3.3)[i]; math.Abs(got-want) > 1e-12 {
			t.Errorf("place %d of the fold is %g, want %g", i, got, want)
		}
	}
}

// Where nothing repeats, the search is spared; where a faint beat comes, it is
// not.
func TestEchoes(t *testing.T) {
	for _, c := range []struct {
		strength float64
		want     bool
	}{{0, true}, {1.5, false}} {
		var e echoes
		b := stretch(120_000, 503.3, [2]float64{0, 251}, [2]float64{c.strength, c.strength}, 0.4, 21)
		for p := range pieces + 1 {
			p %= pieces
			e.add(between([]Band{b}, p*30_000, (p+1)*30_000), 1000)
		}
		if got := e.without(1000); got[0] != c.want || len(e.pieces) != pieces {
			t.Errorf("beats of strength %g: without %v, want %v", c.strength, got, c.want)
		}
	}
}

func TestQuickLength(t *testing.T) {
	for n, want := range map[int]int{1: 4, 4: 4, 13: 16, 101: 108, 200_000: 200_000, 200_001: 202_500} {
		if got := quickLength(n); got != want {
			t.Errorf("quick length from %d on is %d, want %d", n, got, want)
		}
	}
}

func BenchmarkHear(b *testing.B) {
	x := make([]float32, 30*48000)
	if _, err := readFull(movement(18000, 30, 30).Render(), [][]float32{x}, len(x)); err != nil {
		b.Fatal(err)
	}
	b.SetBytes(int64(4 * len(x)))
	for b.Loop() {
		hear(x, 48000)
	}
}

// BenchmarkGlance is the search in the first thirty seconds of a clear
// recording, as far as the cadence.
func BenchmarkGlance(b *testing.B) {
	x := make([]float32, 30*48000)
	if _, err := readFull(movement(18000, 30, 30).Render(), [][]float32{x}, len(x)); err != nil {
		b.Fatal(err)
	}
	for b.Loop() {
		if _, ok := FindCadence(hear(x, 48000), 1000, false); !ok {
			b.Fatal("no beat")
		}
	}
}

// BenchmarkFindNothing is half an hour of rain.
func BenchmarkFindNothing(b *testing.B) {
	x := make([]float32, 1800*48000)
	if _, err := readFull(synth.Quiet("rain", 5, 1800, 48000).Render(), [][]float32{x}, len(x)); err != nil {
		b.Fatal(err)
	}
	b.SetBytes(int64(4 * len(x)))
	for b.Loop() {
		run(b, wavio.FromSamples(48000, x), Options{})
	}
}
