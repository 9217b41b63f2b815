package synth

import "math"

// instrument is the movement's sound as one microphone position hears it.
type instrument struct {
	waves  [2][3]*wave   // by side and contact
	places [2][3]float64 // lift times after the passage through rest
	gain   [2]float64    // brings the peak of each side's beat to 1
	single [2]float64    // brings the peak of each side's drop, alone, to 1
}

// newInstrument draws the sound number position of a seed, for beats whose lift
// takes lift seconds.
func newInstrument(s Sound, seed uint64, position int, lift, rate float64) *instrument {
	rng := stream(seed, modeStream+purpose(position))
	in := new(instrument)
	for side := range in.waves {
		for i, c := range s.drawContacts(rng) {
			in.places[side][i] = c.place
			in.waves[side][i] = newWave(c.modes, rate)
		}
		in.gain[side] = 1 / in.peak(side, lift, rate)
		in.single[side] = 1 / in.waves[side][2].peak()
	}
	return in
}

// peak returns the greatest deflection of a side's beat, between the samples
// as well as on them.
func (in *instrument) peak(side int, lift, rate float64) (peak float64) {
	span := 0
	for _, w := range in.waves[side] {
		span = max(span, len(w.shapes[0]))
	}
	first := lead + lift/2*rate
	sum := make([]float32, span+int(lift*rate)+2*lead)
	for p := range 4 {
		clear(sum)
		for i, w := range in.waves[side] {
			s := w.at(first+in.places[side][i]*lift*rate+float64(p)/4, 1)
			s.add(sum, 0)
		}
		peak = max(peak, greatest(sum))
	}
	return peak
}

// peak returns the greatest deflection of the wave, between the samples as well
// as on them.
func (w *wave) peak() (peak float64) {
	for _, shape := range w.shapes {
		peak = max(peak, greatest(shape))
	}
	return peak
}

func greatest(x []float32) (peak float64) {
	for _, v := range x {
		peak = max(peak, math.Abs(float64(v)))
	}
	return peak
}

// sideOf returns the index of a side.
func sideOf(tock bool) int {
	if tock {
		return 1
	}
	return 0
}
