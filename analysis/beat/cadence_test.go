package beat

import (
	"math"
	"math/rand/v2"
	"testing"
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
