package fault

import (
	"math"
	"math/cmplx"
	"slices"

	"github.com/mjibson/go-dsp/fft"
)

// spectrum is the power of a series over a grid of frequencies, the mean of its
// segments, beside the noise floor.
type spectrum struct {
	power    []float64 // s² per value; bin k is at k/size cycles per value
	evidence []float64 // minus the logarithm of the probability that noise makes a bin as strong
	size     int
	length   int     // values in a segment
	doubled  float64 // as in series
	floor    *floor
}

// bin returns the bin nearest to a frequency in cycles per value, or -1 for one
// outside the spectrum.
func (s *spectrum) bin(freq float64) int {
	if k := int(math.Round(freq * float64(s.size))); k >= 0 && k < len(s.power) {
		return k
	}
	return -1
}

// turns returns how many cycles of bin k a segment holds.
func (s *spectrum) turns(k int) float64 { return float64(k) * float64(s.length) / float64(s.size) }

// weigh measures the floor and fills in the evidence of the bins from low to
// high turns; all others have none. The evidence of noise is exponential with
// mean 1.
func (s *spectrum) weigh(segments int, low, high float64) {
	perTurn := float64(s.size) / float64(s.length)
	noise := slices.Clone(s.power)
	// Among the few bins at the low end a strong line lifts the floor on which
	// it stands. Once seen it is left out of the floor.
	const rounds = 4
	for range rounds {
		s.floor = newFloor(bands{noise, perTurn, segments})
		s.evidence = make([]float64, len(s.power))
		for k := range s.power {
			if turns := s.turns(k); turns >= low && turns <= high {
				s.evidence[k] = s.floor.evidence(s.power[k], turns, segments)
			}
		}
		if !s.leaveOut(noise) {
			return
		}
	}
}

// leaveOut marks the bins of strong lines near the low end of the spectrum by
// negative noise, and tells whether there were new ones.
func (s *spectrum) leaveOut(noise []float64) bool {
	const strong, near, halfWidth = 7, 80, 2.5 // evidence, turns, turns
	reach := int(math.Ceil(halfWidth * float64(s.size) / float64(s.length)))
	some := false
	for k := reach; k+reach < len(noise) && s.turns(k) < near; k++ {
		if noise[k] >= 0 && s.evidence[k] > strong && s.alone(k) {
			for i := k - reach; i <= k+reach; i++ {
				noise[i] = -1
			}
			some = true
		}
	}
	return some
}

// close takes the evidence within a few turns of a frequency out: a line there
// has been dealt with.
func (s *spectrum) close(freq float64) {
	const width = 3 // turns
	reach := width * s.size / s.length
	for k := max(0, s.bin(freq)-reach); k <= s.bin(freq)+reach && k < len(s.evidence); k++ {
		s.evidence[k] = 0
	}
}

// alone reports whether bin k is the top of a line and not the slope of something
// wider: both flanks have fallen far at the edges of the window's main lobe.
// Where the turns are many the floor sees to that.
func (s *spectrum) alone(k int) bool {
	const many, fall = 40, 4
	if k == 0 || k+1 >= len(s.power) || s.power[k-1] > s.power[k] || s.power[k+1] > s.power[k] {
		return false
	}
	reach := 5 * s.size / (2 * s.length)
	return s.turns(k) > many || k-reach > 0 && k+reach < len(s.power) &&
		s.power[k] > fall*s.power[k-reach] && s.power[k] > fall*s.power[k+reach]
}

// transformer makes spectra of segments of one length.
type transformer struct {
	size   int
	packed []complex128
}

// newTransformer prepares for segments of the given length. They are padded
// with zeros, so that the bins stand closer than half the width of a line.
func newTransformer(length int) *transformer {
	size := 64
	for size < length+length/2 {
		size *= 2
	}
	return &transformer{size, make([]complex128, size/2)}
}

// add adds to power, which has size/2 bins, the power density at each of the
// tapered segment x, in s² per value: white noise of variance v has v everywhere.
func (t *transformer) add(power, x []float64, tp taper) {
	if tp.squares == 0 {
		return
	}
	clear(t.packed)
	for i, v := range x {
		if i%2 == 0 {
			t.packed[i/2] = complex(v, 0)
		} else {
			t.packed[i/2] += complex(0, v)
		}
	}
	// Even values are transformed as the real part, odd ones as the imaginary
	// part; the symmetries of the two take them apart again.
	z := fft.FFT(t.packed)
	m := len(z)
	for k := range power {
		a, b := z[k], cmplx.Conj(z[(m-k)%m])
		even, odd := (a+b)/2, (a-b)/2
		sin, cos := math.Sincos(math.Pi * float64(k) / float64(m))
		x := even + complex(-sin, -cos)*odd
		power[k] += (real(x)*real(x) + imag(x)*imag(x)) / tp.squares
	}
}

// harmonics returns the harmonics of freq that are there. One next to another is taken on little evidence; one alone must stand out,
// with at most one missing before it. own tells whether a frequency is that of
// another part of the train, which keeps its line unless it is no higher than
// that of a harmonic would be.
func (s *spectrum) harmonics(freq float64, own func(freq float64) bool) (list []int) {
	const beside, higher = 4, 4
	missing := 1
	for j := 1; j <= maxHarmonics && missing < 3; j++ {
		k := s.bin(float64(j) * freq)
		if k < 0 {
			break
		}
		least := float64(aloneLine)
		if missing == 0 {
			least = beside
		}
		missing++
		if s.evidence[k] < least {
			continue
		}
		if j > 1 && own(float64(j)*freq) {
			below, above := s.bin(float64(j-1)*freq), s.bin(float64(j+1)*freq)
			if above < 0 || s.power[k] > higher*max(s.power[below], s.power[above]) {
				continue
			}
		}
		list = append(list, j)
		missing = 0
	}
	return list
}

// fundamental returns the frequency of which the line at freq is a harmonic: the
// lowest of whose harmonics up to the line three in four are there. own is as
// for harmonics.
func (s *spectrum) fundamental(freq, low float64, own func(freq float64) bool) float64 {
	const most, weakest = 0.75, 0.1 // share of the harmonics; power of another one over that of the line
	best := freq
	for k := 2; k <= deepestComb && freq/float64(k) >= low; k++ {
		f := freq / float64(k)
		there, next := []int{k}, 0.0
		for j := 1; j < k; j++ {
			b := s.bin(float64(j) * f)
			if s.evidence[b] >= aloneLine && !own(float64(j)*f) {
				there = append(there, j)
				next = max(next, s.power[b])
			}
		}
		if float64(len(there)) >= most*float64(k) && common(there) == 1 && next > weakest*s.power[s.bin(freq)] {
			best = f
		}
	}
	return best
}

// polish returns freq as its harmonics have it, which tell it the more precisely
// the higher they are.
func (s *spectrum) polish(freq float64, list []int) float64 {
	const surest = 1000 // beyond that other things than noise limit precision
	sum, weight := 0.0, 0.0
	for _, j := range list {
		n := float64(j)
		k := s.bin(n * freq)
		if k < 1 || k+1 >= len(s.power) || s.evidence[k] < aloneLine {
			continue
		}
		for _, near := range [2]int{k - 1, k + 1} {
			if s.power[near] > s.power[k] {
				k = near
			}
		}
		w := n * n * min(surest, s.power[k]/s.floor.at(s.turns(k)))
		sum += w * s.vertex(k) / n
		weight += w
		freq = sum / weight
	}
	return freq
}

// vertex is the frequency of the top of the line at bin k, by the parabola through
// the logarithms of its power and that of its neighbours.
func (s *spectrum) vertex(k int) float64 {
	if k == 0 || k+1 >= len(s.power) {
		return float64(k) / float64(s.size)
	}
	a, b, c := math.Log(s.power[k-1]), math.Log(s.power[k]), math.Log(s.power[k+1])
	shift := (a - c) / (2 * (a - 2*b + c))
	if !(math.Abs(shift) < 1) {
		shift = 0
	}
	return (float64(k) + shift) / float64(s.size)
}

// common is the greatest common divisor.
func common(list []int) int {
	d := 0
	for _, n := range list {
		for n != 0 {
			d, n = n, d%n
		}
	}
	return d
}
