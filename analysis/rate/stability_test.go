package rate

import (
	"math"
	"math/rand/v2"
	"testing"

	"rundown/analysis/beat"
)

// powerLaw makes n phase values of noise α = 2, 0 or −2: a Gaussian series
// summed up so many times.
func powerLaw(alpha noise, n int, seed uint64) []float64 {
	rng := rand.New(rand.NewPCG(seed, 2))
	x := make([]float64, n)
	for i := range x {
		x[i] = rng.NormFloat64()
	}
	for range (2 - int(alpha)) / 2 {
		for i := 1; i < n; i++ {
			x[i] += x[i-1]
		}
	}
	return x
}

// expectedAllan is the true Allan deviation of powerLaw's noise at factor m,
// from the definition: white phase √3/m, white frequency 1/√m, random walk of
// frequency √((2m²+1)/(6m)).
func expectedAllan(alpha noise, m float64) float64 {
	switch alpha {
	case 2:
		return math.Sqrt(3) / m
	case 0:
		return 1 / math.Sqrt(m)
	}
	return math.Sqrt((2*m*m + 1) / (6 * m))
}

func TestIdentify(t *testing.T) {
	for _, alpha := range []noise{2, 0, -2} {
		right := 0
		for seed := range uint64(50) {
			if a, ok := identify(powerLaw(alpha, 2000, seed), 8); ok && a == alpha {
				right++
			}
		}
		if right < 45 {
			t.Errorf("%v noise named so %d times of 50", alpha, right)
		}
	}
	if _, ok := identify(make([]float64, 100), 8); ok {
		t.Error("13 values name a noise")
	}
}

// TestEquivalentFreedom compares with the older closed forms for overlapping
// Allan variance (D. A. Howe, D. W. Allan and J. A. Barnes, "Properties of
// signal sources and measurement methods", 1981; from memory), which are good
// to some per cent away from small factors.
func TestEquivalentFreedom(t *testing.T) {
	const n = 1000.
	for _, m := range []int{8, 32, 64, 128, 256} {
		f := float64(m)
		for alpha, want := range map[noise]float64{
			2:  (n + 1) * (n - 2*f) / (2 * (n - f)),
			0:  (3*(n-1)/(2*f) - 2*(n-2)/n) * 4 * f * f / (4*f*f + 5),
			-2: (n - 2) / f * ((n-1)*(n-1) - 3*f*(n-1) + 4*f*f) / ((n - 3) * (n - 3)),
		} {
			if got := equivalentFreedom(n, m, alpha, false); math.Abs(got/want-1) > 0.12 {
				t.Errorf("%v, factor %d: %.1f, closed form %.1f", alpha, m, got, want)
			}
		}
	}
	if f := equivalentFreedom(10, 8, 0, false); !math.IsNaN(f) {
		t.Errorf("10 values at factor 8 leave %v degrees of freedom", f)
	}
}

// TestStabilityIntervals counts how often the intervals hold the truth.
func TestStabilityIntervals(t *testing.T) {
	const trials = 200
	for _, alpha := range []noise{2, 0, -2} {
		all := make([][]Stability, trials)
		truth := map[int]float64{} // time variance, by factor
		for seed := range all {
			all[seed] = Stabilities(Phase{Interval: 1, Beats: 1, X: powerLaw(alpha, 1000, uint64(seed))}, 0)
			for _, s := range all[seed] {
				truth[s.Factor] += s.Time * s.Time / trials
			}
		}
		in, timeIn, total := map[int]int{}, map[int]int{}, map[int]int{}
		for _, some := range all {
			for _, s := range some {
				total[s.Factor]++
				if want := expectedAllan(alpha, float64(s.Factor)); s.AllanLow < want && want < s.AllanHigh {
					in[s.Factor]++
				}
				if want := math.Sqrt(truth[s.Factor]); s.TimeLow < want && want < s.TimeHigh {
					timeIn[s.Factor]++
				}
			}
		}
		for m := firstFactor; m <= 256; m *= 2 {
			a, b := float64(in[m])/float64(total[m]), float64(timeIn[m])/float64(total[m])
			t.Logf("%v, factor %d: Allan %.3f, time %.3f", alpha, m, a, b)
			if total[m] != trials || a < 0.91 || a > 0.99 || b < 0.91 || b > 0.995 {
				t.Errorf("%v, factor %d: intervals hold the truth in %.3f and %.3f of %d", alpha, m, a, b, total[m])
			}
		}
	}
}

func TestWander(t *testing.T) {
	// White frequency noise of 1e-6 at a second: 1e-6·√86400 s in a day.
	x := powerLaw(0, 20000, 3)
	for i := range x {
		x[i] *= 1e-6
	}
	w, ok := PredictWander(Stabilities(Phase{Interval: 1, Beats: 1, X: x}, 0))
	want := 1e-6 * math.Sqrt(86400)
	if !ok || w.Noise != "white frequency" || w.Low > want || w.High < want {
		t.Errorf("%+v, want %v s", w, want)
	}
	if _, ok := PredictWander(nil); ok {
		t.Error("a wander out of nothing")
	}
}

// TestWanderOfSlowNoise hides a random walk of frequency under white phase
// noise: where it comes out there are too few values left to tell it by their
// correlation, and the slope has to.
func TestWanderOfSlowNoise(t *testing.T) {
	in, named := 0, 0
	const trials = 50
	for seed := range uint64(trials) {
		x, white := powerLaw(-2, 2000, seed), powerLaw(2, 2000, seed+trials)
		for i := range x {
			x[i] += 3 * white[i]
		}
		w, ok := PredictWander(Stabilities(Phase{Interval: 1, Beats: 1, X: x}, 0))
		if !ok {
			t.Fatal("no wander")
		}
		if want := 86400 * expectedAllan(-2, 86400); w.Low < want && want < w.High {
			in++
		}
		if w.Noise == "random-walk frequency" {
			named++
		}
	}
	if in < 44 || named < 45 {
		t.Errorf("of %d intervals %d hold the truth, %d name the noise", trials, in, named)
	}
}

// TestPhase compares samples with the movement's own course, jumps out.
func TestPhase(t *testing.T) {
	m := movement{
		seed: 4, interval: 0.125, beats: 20000, scatter: 20e-6, beatError: 3e-3, outliers: 0.01, wild: 1e-3, unheard: 0.2,
		rate: func(t float64) float64 { return 5 + t/10 },
		jumps: []beat.Event{
			{Kind: beat.Late, Beat: 4000, Shift: 0.004}, {Kind: beat.Early, Beat: 4800, Shift: -0.003},
			{Kind: beat.Stop, Beat: 9000, Shift: 200}, {Kind: beat.Gap, Beat: 15000, Shift: -0.05},
		},
	}
	tr := m.run()
	_, a := tr.windows(60)
	p := a.Phase()
	if p.Beats != 8 {
		t.Fatalf("%d beats a sample", p.Beats)
	}
	var off []float64
	for k, x := range p.X {
		if math.IsNaN(x) {
			continue
		}
		i := 8 * k
		if i+7 >= len(tr.clean) {
			break
		}
		off = append(off, x-((tr.clean[i+3]+tr.clean[i+4])/2-float64(i)*p.Interval/8))
	}
	if len(off) < 2400 {
		t.Errorf("%d samples", len(off))
	}
	var about []float64
	for _, o := range off {
		about = append(about, o-off[0])
	}
	// Scatter of a sample is 7 µs; jumps are estimated to some µs each.
	if r := rms(about); r > 30e-6 {
		t.Errorf("samples off by %v s RMS", r)
	}
	if got := p.Between(1400, 1500); len(got.X) < 98 || len(got.X) > 101 {
		t.Errorf("%d samples in 100 s", len(got.X))
	}
	flat := p.Between(1400, 2000).WithoutDrift()
	if r := rms(flat.X); r > 12e-6 {
		t.Errorf("%v s RMS left without drift", r)
	}
}
