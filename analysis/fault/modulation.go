package fault

import (
	"math"
	"math/cmplx"
)

const (
	// significant is the p-value below which a recurrence is listed.
	significant = 1e-3
	// maxWaves bounds the waves that are looked for in one series.
	maxWaves = 12
)

// modulation is a wave found, before it has a name.
type modulation struct {
	period float64 // beats
	latest float64 // a latest point, in beats from the first one
	size   float64 // peak-to-peak, seconds
	turns  int     // whole ones observed
	logp   float64
	part   int // index of the part of the train that turns at the period, or -1
	// resolution is by how many cycles per beat another period must differ to be
	// told apart.
	resolution float64
}

// modulations returns the waves in the series, in the order found. What is not
// steady enough for something that turns, or belongs to the shape of a wave found
// before, is not among them, but no longer in the way.
func (q *search) modulations() []modulation {
	var list []modulation
	for len(q.found) < maxWaves && q.s.n >= minSamples {
		sp := q.spectrum()
		c := sp.strongest(q.known, q.s.step)
		if c.logp > math.Log(significant) {
			break
		}
		freq, part := q.identify(sp, c)
		freq, harmonics := q.shape(sp, c, freq, part)
		w, steady := q.measure(freq, harmonics, sp)
		if steady && (part >= 0 || !q.overtone(freq)) {
			list = append(list, q.describe(w, c.logp, part))
		}
		q.take(w, harmonics)
	}
	return list
}

// minSamples is the shortest series worth a spectrum.
const minSamples = 128

// describe returns what there is to say of a wave.
func (q *search) describe(w *wave, logp float64, part int) modulation {
	const apart = 0.25 // turns in a segment
	step := float64(q.s.step)
	size, latest := w.extremes()
	return modulation{
		period:     step / w.freq,
		latest:     q.s.offset + latest*step/w.freq,
		size:       size,
		turns:      q.turnsOf(w.freq),
		logp:       logp,
		part:       part,
		resolution: apart / float64(q.s.length()) / step,
	}
}

// measure returns the wave of the given harmonics of freq. It is steady where
// its strongest harmonic is.
func (q *search) measure(freq float64, list []int, sp *spectrum) (w *wave, steady bool) {
	freqs := make([]float64, len(list))
	for i, j := range list {
		freqs[i] = float64(j) * freq
	}
	w = &wave{freq: freq, harmonics: make([]complex128, list[len(list)-1])}
	top := 0.0
	for i, l := range q.lines(freqs) {
		a := l.amplitude()
		// Noise adds its own share to the square of an amplitude.
		noise := sp.floor.at(freqs[i]*float64(sp.length)) / l.power
		w.harmonics[list[i]-1] = a * complex(math.Sqrt(max(0, 1-noise)), 0)
		if cmplx.Abs(a) > top {
			top, steady = cmplx.Abs(a), l.steady()
		}
	}
	return w, steady
}
