package onset

import (
	"math"
	"math/bits"
	"slices"

	"gonum.org/v1/gonum/dsp/fourier"
)

// Loudest returns where in x a sound about n frames long stands out most, in
// frames from its start to where it sets in, and by how many standard deviations
// it stands out of the rest, taken robustly; 0 if something as loud goes before
// it. It listens to the frequencies at which the beats of the shaping stand out
// of the room: a sound of the same movement will have much the same.
func Loudest(s *Shaping, x []float64, n int) (at, z float64) {
	size := 1 << bits.Len(uint(len(x)+2*n))
	fft := fourier.NewFFT(size)
	padded := make([]float64, size)
	copy(padded, x)
	c := fft.Coefficients(nil, padded)
	for k, g := range s.gain(size) {
		c[k] *= complex(g*s.clarity(k, size), 0)
	}
	w := fft.Sequence(padded, c)
	sum := make([]float64, len(x)+1)
	for i := range x {
		sum[i+1] = sum[i] + w[i]*w[i]
	}
	if len(x) <= 2*n {
		return 0, 0
	}
	e := make([]float64, len(x)-n)
	for i := range e {
		e[i] = sum[i+n] - sum[i]
	}
	p := 0
	for i, v := range e {
		if v > e[p] {
			p = i
		}
	}
	sorted := slices.Clone(e)
	slices.Sort(sorted)
	median := sorted[len(sorted)/2]
	sd := median - sorted[len(sorted)/6]
	if sd <= 0 {
		return 0, 0
	}
	// A sound that rings on, or dies away, does not set in.
	for i := max(0, p-3*n); i < p-n; i++ {
		if e[i]-median > 0.5*(e[p]-median) {
			return 0, 0
		}
	}
	// The window first holds all of the sound when it starts where that sets in.
	return float64(p) + math.Round(float64(n)/6), (e[p] - median) / sd
}

// clarity is how much of what the shaping heard of the beats at frequency k of a
// transform of n frames was not the room's, as a fraction of amplitude.
func (s *Shaping) clarity(k, n int) float64 {
	i := min(int(math.Round(float64(k)*float64(len(s.Room)-1)/float64(n/2))), len(s.Room)-1)
	if s.Beat[i] <= 0 {
		return 0
	}
	return math.Sqrt(max(0, 1-s.Room[i]/s.Beat[i]))
}
