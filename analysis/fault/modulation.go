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
		if steady && (part >= 0 || !q.overtone(freq) && !q.grows(w)) {
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

// wave is a periodic deviation of beat times: the real part of
// Σ harmonics[j-1] · exp(2πi j freq n) over value number n of a series.
type wave struct {
	freq      float64      // cycles per value
	harmonics []complex128 // seconds; 0 for those that are not part of it
	table     []float64    // one cycle, for at
}

// tableSize is the number of points of one cycle in a table.
const tableSize = 4096

// tabulate prepares the wave for at.
func (w *wave) tabulate() {
	w.table = make([]float64, tableSize+1)
	for i := range w.table {
		w.table[i] = w.phase(float64(i) / tableSize)
	}
}

// greatest returns the amplitude of the strongest harmonic, in seconds.
func (w *wave) greatest() (most float64) {
	for _, c := range w.harmonics {
		most = max(most, cmplx.Abs(c))
	}
	return most
}

// count is the number of harmonics that are part of the wave.
func (w *wave) count() int {
	n := 0
	for _, c := range w.harmonics {
		if c != 0 {
			n++
		}
	}
	return n
}

// phase is the deviation at a phase in cycles, in seconds.
func (w *wave) phase(turns float64) float64 {
	sum := 0.0
	for j, c := range w.harmonics {
		if c != 0 {
			sin, cos := math.Sincos(2 * math.Pi * float64(j+1) * turns)
			sum += real(c)*cos - imag(c)*sin
		}
	}
	return sum
}

// at is the deviation of value i, in seconds.
func (w *wave) at(i int) float64 {
	phase := w.freq * float64(i)
	phase = (phase - math.Floor(phase)) * tableSize
	k := int(phase)
	return w.table[k] + (phase-float64(k))*(w.table[k+1]-w.table[k])
}

// extremes returns the peak-to-peak deviation in seconds, and the phase in cycles
// at which the deviation is greatest. Where the period is a whole number of
// values, it is the phase of one of them.
func (w *wave) extremes() (size, latest float64) {
	steps := float64(tableSize)
	if p := 1 / w.freq; math.Abs(p-math.Round(p)) < 1e-9*p && p < tableSize {
		steps = math.Round(p)
	}
	low, high := math.Inf(1), math.Inf(-1)
	for i := range int(steps) {
		v := w.phase(float64(i) / steps)
		if v > high {
			high, latest = v, float64(i)/steps
		}
		low = min(low, v)
	}
	return high - low, latest
}
