package contacts

import (
	"testing"

	"rundown/dsp/filter"
)

// TestTheMarkStaysWhereItIs has a lift that grows threefold, and a sound that sets in a little before
// the mark, and as suddenly in every block: it does so where it should.
func TestTheMarkStaysWhereItIs(t *testing.T) {
	const blocks, bins, sudden = 40, 400, 5
	r := &reader{sheet: &sheet{bands: make([]*filter.Band, 1), rate: 48000, period: 0.4, hop: 8, pre: 1600, bins: bins, blocks: make([]Block, blocks)}}
	mark := arrival{at: -0.2e-3 * r.rate, power: 100}
	for k := range r.blocks {
		r.blocks[k].Sides[0].Beats = 10
		r.scale.at = append(r.scale.at, 1+2*float64(k)/blocks)
		onsets := make([]float32, bins)
		onsets[r.bin(0, mark.at)] = sudden
		r.onsets[0] = append(r.onsets[0], onsets)
	}
	here, moved := make([]float64, blocks), make([]float64, blocks)
	r.setIn(here, moved, 0, mark, -8e-3*r.rate)
	for k, v := range here {
		if v < sudden/2 || moved[k] != 0 {
			t.Fatalf("block %d, where the lift is %.1f times as long: %.1f nats where the mark is, %.1f where it is not", k, r.scale.at[k], v, moved[k])
		}
	}
}
