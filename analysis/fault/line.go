package fault

import (
	"math"
	"math/cmplx"
)

// line is what Fourier sums under Hann's window find at one frequency.
type line struct {
	power  float64       // sum over the segments of the power density, s² per value
	halves [2]complex128 // shares of the two halves of the run in the amplitude, s
}

// amplitude is the complex amplitude a over the whole run, of the oscillation
// Re(a · exp(2πi freq n)).
func (l line) amplitude() complex128 { return l.halves[0] + l.halves[1] }

// steady reports whether both halves of the run agree with the whole, as a part
// that turns makes them do and a passing disturbance does not.
func (l line) steady() bool {
	const least = 0.15 // of the whole; the due share of a half is 0.5
	whole := l.amplitude()
	norm := real(whole)*real(whole) + imag(whole)*imag(whole)
	for _, h := range l.halves {
		if real(h*cmplx.Conj(whole)) < least*norm {
			return false
		}
	}
	return true
}

// lineSum gathers a line from the segments of a run.
type lineSum struct {
	freq   float64
	sum    line
	weight float64
}

// add takes in a tapered segment x that begins with value from of n.
func (s *lineSum) add(x []float64, t taper, from, n int) {
	turn := cmplx.Rect(1, -2*math.Pi*s.freq)
	half := min(max(n/2-from, 0), len(x))
	var whole complex128
	for h, part := range [][]float64{x[:half], x[half:]} {
		at := s.freq * float64(from+h*half)
		e := cmplx.Rect(1, -2*math.Pi*(at-math.Floor(at)))
		var sum complex128
		for _, v := range part {
			sum += complex(v*real(e), v*imag(e))
			e *= turn
		}
		s.sum.halves[h] += sum
		whole += sum
	}
	s.weight += t.weight
	if t.squares > 0 {
		s.sum.power += (real(whole)*real(whole) + imag(whole)*imag(whole)) / t.squares
	}
}

// line returns what was gathered.
func (s *lineSum) line() line {
	l := s.sum
	if s.weight > 0 {
		scale := complex(2/s.weight, 0)
		l.halves[0] *= scale
		l.halves[1] *= scale
	}
	return l
}

// taper tells how much of a segment's values is left under a window.
type taper struct {
	weight  float64 // sum of the window
	squares float64 // sum of its squares
}

// applyTaper multiplies x by Hann's window, which is 0 just outside both ends.
func applyTaper(x []float64) taper {
	var t taper
	for i := range x {
		s := math.Sin(math.Pi * (float64(i) + 0.5) / float64(len(x)))
		w := s * s
		x[i] *= w
		t.weight += w
		t.squares += w * w
	}
	return t
}
