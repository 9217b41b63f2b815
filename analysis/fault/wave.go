package fault

import "math"

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
