package beat

import "rundown/dsp/filter"

// blockFrames is how many frames make a block, about a millisecond.
func blockFrames(rate float64) int { return max(1, int(rate/1000+0.5)) }

// appendEnergies appends to dst the energies, in a band, of the whole blocks of
// x from block from on. Before x, there is silence.
func appendEnergies(dst []float32, band *filter.Band, x []float32, from, block int) []float32 {
	whole := len(x) / block
	warm := band.Warmup()
	// The first blocks have too little before them for the filter to warm up on.
	if short := min(whole, (warm+block-1)/block); from < short {
		padded := make([]float32, warm+short*block)
		copy(padded[warm:], x)
		dst = band.Energies(dst, padded[from*block:], block)
		from = short
	}
	if from < whole {
		dst = band.Energies(dst, x[from*block-warm:whole*block], block)
	}
	return dst
}
