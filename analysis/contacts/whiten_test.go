package contacts

import (
	"math"
	"math/cmplx"
	"math/rand/v2"
	"testing"

	"gonum.org/v1/gonum/dsp/fourier"
)

// spectrum is that of a room at 129 frequencies up to half of 48 kHz.
func spectrum(power func(hz float64) float64) []float64 {
	room := make([]float64, 129)
	for k := range room {
		room[k] = power(math.Max(float64(k), 0.5) * 24000 / 128)
	}
	return room
}

// response is the power with which the whitener passes a frequency.
func response(w *Whitener, hz float64) float64 {
	x := make([]float32, 2*whitening+1)
	x[whitening] = 1
	var sum complex128
	for i, v := range w.Append(nil, x) {
		sum += complex(float64(v), 0) * cmplx.Exp(complex(0, -2*math.Pi*hz/48000*float64(i)))
	}
	return real(sum)*real(sum) + imag(sum)*imag(sum)
}

// TestWhitenerWhitens expects rooms of any colour to become white, of variance 1,
// above the rumble that it keeps out, as far as its order resolves.
func TestWhitenerWhitens(t *testing.T) {
	for name, power := range map[string]func(hz float64) float64{
		"white":      func(float64) float64 { return 2 },
		"quiet":      func(float64) float64 { return 2e-8 },
		"pink":       func(hz float64) float64 { return 2e-4 * 1000 / hz },
		"a low hill": func(hz float64) float64 { return 1e-6 + 1e-5*math.Exp(-math.Pow((hz-6000)/2500, 2)) },
	} {
		w := NewWhitener(spectrum(power), 48000)
		for hz := 2250.; hz <= 22500; hz += 375 {
			// White noise of variance 1 has 2 in a one-sided spectrum.
			if db := 10 * math.Log10(power(hz)*response(w, hz)/2); math.Abs(db) > 1 {
				t.Errorf("%s: %.1f dB off white at %.0f Hz", name, db, hz)
			}
		}
	}
}

// TestWhitenerOnPinkNoise whitens noise made in another way: by its spectrum.
func TestWhitenerOnPinkNoise(t *testing.T) {
	const n, bands = 1 << 17, 15
	rng := rand.New(rand.NewPCG(2, 3))
	fft := fourier.NewFFT(n)
	c := make([]complex128, n/2+1)
	for k := 1; k < n/2; k++ {
		hz := float64(k) * 48000 / n
		c[k] = complex(rng.NormFloat64(), rng.NormFloat64()) * complex(math.Sqrt(1000/hz/4/n), 0)
	}
	var x []float32
	for _, v := range fft.Sequence(nil, c) {
		x = append(x, float32(v))
	}
	// Each frequency has a variance of 1000/hz/n: that of white noise of
	// variance v is 2v/n.
	w := NewWhitener(spectrum(func(hz float64) float64 { return 1000 / hz }), 48000)
	y := make([]float64, n)
	for i, v := range w.Append(nil, x) {
		y[i] = float64(v)
	}
	c = fft.Coefficients(c, y)
	for b := 1; b <= bands; b++ {
		var sum float64
		lo, hi := b*n/2/(bands+1), (b+1)*n/2/(bands+1)
		for _, v := range c[lo:hi] {
			sum += real(v)*real(v) + imag(v)*imag(v)
		}
		if db := 10 * math.Log10(sum/float64(hi-lo)/n); math.Abs(db) > 1 {
			t.Errorf("%.1f dB off a variance of 1 about %.0f Hz", db, (float64(b)+0.5)*24000/(bands+1))
		}
	}
}

// TestWhitenerIsCausal expects nothing to sound ahead of its time, and as many
// samples as there were.
func TestWhitenerIsCausal(t *testing.T) {
	w := NewWhitener(spectrum(func(hz float64) float64 { return 1000 / hz }), 48000)
	x := make([]float32, 400)
	x[200] = 1
	y := w.Append(nil, x)
	if len(y) != len(x) {
		t.Fatalf("%d samples of %d", len(y), len(x))
	}
	for i, v := range y[:200] {
		if v != 0 {
			t.Fatalf("%v sounds %d frames ahead", v, 200-i)
		}
	}
	if y[200] == 0 {
		t.Error("the sound itself is lost")
	}
}
