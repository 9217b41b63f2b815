package synth

import (
	"math"
	"testing"
)

func TestWhiteNoiseIsNormal(t *testing.T) {
	const n = 1 << 20
	x := make([]float32, n)
	newWhite(1, 2).fill(x)
	var sum [5]float64
	for _, v := range x {
		p := 1.0
		for k := range sum {
			sum[k] += p
			p *= float64(v)
		}
	}
	// Standard errors: 1/√n, √(2/n), √(15/n), √(96/n).
	near(t, "mean", sum[1]/n, 0, 4/math.Sqrt(n))
	near(t, "variance", sum[2]/n, 1, 4*math.Sqrt(2./n))
	near(t, "third moment", sum[3]/n, 0, 4*math.Sqrt(15./n))
	near(t, "fourth moment", sum[4]/n, 3, 4*math.Sqrt(96./n))
	for _, lag := range []int{1, 2, 3, 4, 5, 8} {
		var c float64
		for i := lag; i < n; i++ {
			c += float64(x[i]) * float64(x[i-lag])
		}
		near(t, "autocorrelation", c/n, 0, 4/math.Sqrt(n))
	}
}

// octave returns the power of a texture in an octave from hz up.
func octavePower(open func() texture, hz, rate float64) float64 {
	x := make([]float32, 1<<14)
	t := open()
	t.fill(x)
	var power float64
	for range 6 {
		t.fill(x)
		for k := int(hz / rate * float64(len(x))); k < int(2*hz/rate*float64(len(x))); k++ {
			var re, im float64
			turn, step := complex(1, 0), complex(math.Cos(2*math.Pi*float64(k)/float64(len(x))), math.Sin(2*math.Pi*float64(k)/float64(len(x))))
			for _, v := range x {
				re += float64(v) * real(turn)
				im += float64(v) * imag(turn)
				turn *= step
			}
			power += re*re + im*im
		}
	}
	return power
}

func TestSlopes(t *testing.T) {
	const rate = 16000
	tests := map[string]struct {
		open  opener
		slope float64 // dB of power an octave band
	}{
		"pink":  {textures["pink"], 0},
		"brown": {textures["brown"], -3.01},
	}
	for name, test := range tests {
		open := func() texture { return test.open(3, 4, rate) }
		low, high := octavePower(open, 100, rate), octavePower(open, 400, rate)
		near(t, name+" slope", 10*math.Log10(high/low)/2, test.slope, 0.7)
	}
}

func TestLoopHasNoSeam(t *testing.T) {
	// A tone whose length is no whole number of periods would click where it is
	// repeated.
	x := make([]float32, 8000)
	for i := range x {
		x[i] = float32(math.Sin(2 * math.Pi * 100.3 * float64(i) / 8000))
	}
	rec := Recording{Seed: 1, Duration: 5, Movement: Movement{Absent: true}, Room: Room{Samples: x, SamplesRate: 8000, Level: -20}, Recorder: Recorder{Float: true}}
	y := read(t, rec.Render(), 4096)[0]
	near(t, "level", 20*math.Log10(rms(y)), -20, 0.3)
	var steepest float64
	for i := 1; i < len(y); i++ {
		steepest = max(steepest, math.Abs(float64(y[i]-y[i-1])))
	}
	if limit := 2 * math.Pi * 100.3 / 48000 * 0.1 * math.Sqrt2 * 1.3; steepest > limit {
		t.Errorf("a step of %g, where the tone makes %g", steepest, limit)
	}
}

func BenchmarkTextures(b *testing.B) {
	x := make([]float32, 48000)
	for _, name := range Textures() {
		b.Run(name, func(b *testing.B) {
			t := newTexture(name, 1, 2, 48000)
			for b.Loop() {
				t.fill(x)
			}
		})
	}
}
