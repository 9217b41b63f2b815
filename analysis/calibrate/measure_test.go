package calibrate

import (
	"math"
	"math/rand/v2"
	"testing"

	"rundown/dsp/synth"
)

// scattered is ten minutes of marks, one a second, of a clock 37.5 ppm fast,
// whose scatter is alike from mark to mark by a first-order autoregression.
func scattered(rng *rand.Rand, alike float64) *Series {
	const rate = 48000
	s := &Series{Hz: 1, SampleRate: rate, Frames: 600 * rate, Expected: 600}
	x := rng.NormFloat64()
	for k := range 600 {
		x = alike*x + math.Sqrt(1-alike*alike)*rng.NormFloat64()
		seconds := float64(k)
		s.add(Mark{Frame: rate * ((seconds+0.3)*(1+37.5e-6) + 20e-6*x), Seconds: seconds})
	}
	return s
}

// The 95 % interval holds the truth about 95 times in 100, whether the scatter
// is independent or not.
func TestErrorBarIsHonest(t *testing.T) {
	for _, c := range []struct{ alike, low, high float64 }{
		{0, 0.93, 0.97}, {0.3, 0.93, 0.975}, {0.9, 0.90, 0.98},
	} {
		const trials = 400
		rng := rand.New(rand.NewPCG(3, 4))
		inside := 0.0
		for range trials {
			e, ok := Measure(scattered(rng, c.alike))
			if !ok {
				t.Fatal("not measured")
			}
			if math.Abs(e.PPM.X-37.5) < 1.96*e.PPM.SE {
				inside++
			}
		}
		if share := inside / trials; share < c.low || share > c.high {
			t.Errorf("scatter alike by %g: %.3f of the intervals hold the truth", c.alike, share)
		}
	}
}

// Ten minutes of a quartz clock's tick, from the sound.
func TestTenMinutesOfTicks(t *testing.T) {
	for seed := range uint64(3) {
		rec := quartz(seed, 600, 8000, synth.Reference{Hz: 1, Scatter: 20e-6}, 37.5, 5./3)
		_, e := heard(t, rec)
		truth := 37.5 + 5./3*300/3600
		if d := math.Abs(e.PPM.X - truth); d > 0.2 || d > 4*e.PPM.SE {
			t.Errorf("seed %d: %v ppm, want %v", seed, e.PPM, truth)
		}
		if d := math.Abs(e.Drift.X - 5./3); d > 4*e.Drift.SE {
			t.Errorf("seed %d: drift %v ppm/h, want %v", seed, e.Drift, 5./3)
		}
		if math.Abs(e.Scatter-20e-6) > 3e-6 {
			t.Errorf("seed %d: scatter %v s", seed, e.Scatter)
		}
	}
}

func TestOutliersHaveNoSay(t *testing.T) {
	rng := rand.New(rand.NewPCG(5, 6))
	s := scattered(rng, 0)
	for i := 3; i < len(s.marks); i += 17 {
		s.marks[i].x += 1.5e-3
	}
	e, _ := Measure(s)
	if math.Abs(e.PPM.X-37.5) > 4*e.PPM.SE || e.PPM.SE > 0.006 {
		t.Errorf("%v ppm, want 37.5", e.PPM)
	}
}

// The time that an error needs is that at whose end it is reached.
func TestTime(t *testing.T) {
	e := Error{Scatter: 20e-6, Correlation: 1, hz: 1}
	for _, ppm := range []float64{1, 0.1, 0.01} {
		n := e.Time(ppm)
		if se := 20e-6 * math.Sqrt(12/(n*n*n)); math.Abs(2e6*se/ppm-1) > 1e-9 {
			t.Errorf("%g ppm in %g s: two standard errors are %g ppm", ppm, n, 2e6*se)
		}
	}
}

func TestSeriesIsBounded(t *testing.T) {
	s := &Series{Hz: 16, SampleRate: 48000}
	const n = 3 * mostMarks
	for k := range n {
		seconds := float64(k) / 16
		s.add(Mark{Frame: 48000 * seconds * (1 + 10e-6), Seconds: seconds})
	}
	if len(s.marks) > mostMarks || s.Heard != n {
		t.Errorf("%d marks kept of %d", len(s.marks), s.Heard)
	}
	if e, ok := Measure(s); !ok || math.Abs(e.PPM.X-10) > 1e-6 || e.Used != n {
		t.Errorf("%v, want 10 ppm of %d marks", e, n)
	}
}
