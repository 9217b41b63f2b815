package calibrate

import (
	"math"
	"math/rand/v2"
	"testing"
)

// course is a recorder's clock whose error in ppm depends on true time.
type course func(t float64) float64

// seconds is how long the recordings of these tests last.
const seconds = 10800

// times returns the recorder's time at whole true seconds.
func (c course) times() []float64 {
	out := make([]float64, seconds+1)
	for k := 1; k < len(out); k++ {
		out[k] = out[k-1] + 1 + 1e-6*c(float64(k)-0.5)
	}
	return out
}

// series makes a mark a second with a scatter of 20 µs, but for those lost. A
// shift displaces all marks after the loss.
func (c course) series(seed uint64, lost Span, shift float64) *Series {
	const rate = 48000
	rng := rand.New(rand.NewPCG(seed, 9))
	times := c.times()
	s := &Series{Hz: 1, SampleRate: rate, Frames: int64(times[seconds] * rate), Expected: seconds}
	fresh := false
	for k, t := range times {
		x, at := 20e-6*rng.NormFloat64(), float64(k)
		switch {
		case at >= lost.Start && at < lost.End:
			fresh = shift != 0
			continue
		case at >= lost.End:
			at += shift
		}
		s.add(Mark{Frame: rate * (t + x), Seconds: at, Fresh: fresh})
		fresh = false
	}
	return s
}

var (
	steady  = course(func(float64) float64 { return -20 })
	warming = course(func(t float64) float64 { return 37.5 + 5*t/seconds })
	// heated follows a room whose heating comes and goes.
	heated = course(func(t float64) float64 {
		return 10 + 2*math.Sin(2*math.Pi*t/5400) + 0.3*math.Sin(2*math.Pi*t/1200)
	})
)

func TestCurve(t *testing.T) {
	gap := Span{3000, 4200}
	for name, c := range map[string]struct {
		course
		lost  Span
		shift float64
		most  float64 // error of any ten minutes, ppm
	}{
		"steady":             {steady, Span{}, 0, 0.002},
		"warming":            {warming, Span{}, 0, 0.03},
		"heated":             {heated, Span{}, 0, 0.05},
		"steady with gap":    {steady, gap, 0, 0.005},
		"warming with gap":   {warming, gap, 0, 0.06},
		"warming with break": {warming, gap, 0.37, 0.15},
		"heated with gap":    {heated, gap, 0, 1},
	} {
		times := c.times()
		var squares, n float64
		for seed := range uint64(3) {
			curve := NewCurve(c.series(seed, c.lost, c.shift))
			for w := 0; w+600 <= seconds; w += 600 {
				truth := 1e6 * (times[w+600] - times[w] - 600) / 600
				mean := curve.Mean(float64(w), float64(w+600))
				squares += (mean.X - truth) * (mean.X - truth) / (mean.SE * mean.SE)
				n++
				corrected := curve.Seconds(48000*times[w+600]) - curve.Seconds(48000*times[w])
				if off := 1e6 * (corrected - 600) / 600; math.Abs(off) > c.most || math.Abs(mean.X-truth) > c.most {
					t.Errorf("%s: ten minutes from %d s are off by %.4f ppm, their mean error by %.4f ppm", name, w, off, mean.X-truth)
				}
			}
			whole, truth := curve.Mean(0, curve.Seconds(curve.end*curve.sampleRate)), 1e6*(times[seconds]-seconds)/seconds
			if d := math.Abs(whole.X - truth); d > 5*whole.SE {
				t.Errorf("%s: mean %v ppm, want %v", name, whole, truth)
			}
		}
		if z := math.Sqrt(squares / n); z < 0.5 || z > 1.6 {
			t.Errorf("%s: errors are %.2f times their standard errors", name, z)
		}
	}
}

// What a break displaces does not displace the clock.
func TestCurveGoesOnAtABreak(t *testing.T) {
	gap := Span{3000, 3030}
	whole, broken := NewCurve(warming.series(1, gap, 0)), NewCurve(warming.series(1, gap, 0.37))
	for at := 0.0; at < seconds; at += 100 {
		if d := whole.Seconds(48000*at) - broken.Seconds(48000*at); math.Abs(d) > 20e-6 {
			t.Fatalf("at %g s a break displaces the clock by %g s", at, d)
		}
	}
}

func TestCurveStartsAtZeroAndRises(t *testing.T) {
	c := NewCurve(heated.series(1, Span{0, 500}, 0))
	if at := c.Seconds(0); math.Abs(at) > 1e-12 {
		t.Errorf("frame 0 is at %g s", at)
	}
	last := -1.0
	for frame := -48000.0; frame < 48000*(seconds+100); frame += 4800 {
		at := c.Seconds(frame)
		if d := at - last; frame > -48000 && math.Abs(d-0.1) > 0.1*50e-6 {
			t.Fatalf("a tenth of a second at frame %g takes %g s", frame, d)
		}
		last = at
	}
}

func BenchmarkCurve(b *testing.B) {
	s := warming.series(1, Span{}, 0)
	for b.Loop() {
		NewCurve(s)
	}
}
