package fitness

import (
	"math"
	"slices"

	"gonum.org/v1/gonum/blas/gonum"
	"gonum.org/v1/gonum/dsp/fourier"
	"gonum.org/v1/gonum/dsp/window"
	"gonum.org/v1/gonum/stat"
)

// bandPass returns x between two frequencies in Hz, by a finite impulse response
// of linear phase (a windowed sinc), whose delay is taken out.
func bandPass(x []float32, low, high, rate float64) []float32 {
	const half = 64
	high = math.Min(high, 0.49*rate)
	taps := make([]float64, 2*half+1)
	for i := range taps {
		n := float64(i - half)
		taps[i] = 2*high/rate*sinc(2*high/rate*n) - 2*low/rate*sinc(2*low/rate*n)
	}
	window.Hann(taps)
	h := make([]float32, len(taps))
	for i, v := range taps {
		h[i] = float32(v)
	}
	out := make([]float32, len(x))
	const block = 4096 // of the output, which stays at hand while all taps are laid over it
	for from := half; from+half < len(x); from += block {
		dst := out[from:min(from+block, len(x)-half)]
		for k, v := range h {
			gonum.Implementation{}.Saxpy(len(dst), v, x[from-half+k:], 1, dst, 1)
		}
	}
	return out
}

func sinc(x float64) float64 {
	if x == 0 {
		return 1
	}
	return math.Sin(math.Pi*x) / (math.Pi * x)
}

// spectra are the power spectra of a sound, one after the other.
type spectra struct {
	frames [][]float32 // power in each band of a frame, dB
	width  float64     // of a band, Hz
}

// spectrumSize is how many samples a spectrum is taken of.
const spectrumSize = 2048

// bandWidth is about the width of the bands that are compared, Hz.
const bandWidth = 500

// newSpectra takes the spectra of x at a sample rate.
func newSpectra(x []float32, rate float64) *spectra {
	fft := fourier.NewFFT(spectrumSize)
	perBand := int(math.Ceil(bandWidth * spectrumSize / rate))
	s := &spectra{width: float64(perBand) * rate / spectrumSize}
	buf, bins := make([]float64, spectrumSize), make([]complex128, spectrumSize/2+1)
	for at := 0; at+spectrumSize <= len(x); at += spectrumSize {
		for i := range buf {
			buf[i] = float64(x[at+i])
		}
		fft.Coefficients(bins, window.BlackmanHarris(buf))
		var bands []float32
		for k := 0; k+perBand <= spectrumSize/2; k += perBand {
			power := 1e-20
			for _, c := range bins[k : k+perBand] {
				power += real(c)*real(c) + imag(c)*imag(c)
			}
			bands = append(bands, float32(10*math.Log10(power/float64(perBand))))
		}
		s.frames = append(s.frames, bands)
	}
	return s
}

// quantile returns, for each band, the power that a part of the frames stay below,
// dB.
func (s *spectra) quantile(part float64) []float64 {
	if len(s.frames) == 0 {
		return nil
	}
	out := make([]float64, len(s.frames[0]))
	column := make([]float64, len(s.frames))
	for b := range out {
		for i, f := range s.frames {
			column[i] = float64(f[b])
		}
		slices.Sort(column)
		out[b] = stat.Quantile(part, stat.Empirical, column, nil)
	}
	return out
}
