package contacts

import "math"

// slips reports whether somewhere in the run the mark is another sound of the beat than
// elsewhere: of some blocks in a row, all sounds together set in more clearly, moved by
// the distance of two of them, than where they should be. A movement that hesitates by
// as much as two sounds alike lie apart leads the tracker from one to the other. By noise
// that is so with the probability falseSlip.
func (r *reader) slips() bool {
	const falseSlip = 1e-6
	most, tried := 0.0, 1.0
	for side := range r.found {
		for _, a := range r.found[side] {
			for _, b := range r.found[side] {
				if d := a.at - b.at; math.Abs(d) >= r.frames(r.apart()) {
					most = math.Max(most, r.slipBy(d))
					tried += float64(len(r.blocks))
				}
			}
		}
	}
	return most > math.Log(tried/falseSlip)
}

// slipBy returns the most evidence, in nats, that the mark of some blocks in a row lies
// by a distance, in frames at the run's middle, from where it is in the others. Moved by
// it, the sounds have to set in about as clearly as they do elsewhere: where the lift was
// lost, they do so nowhere.
func (r *reader) slipBy(d float64) float64 {
	const asClear = 0.6
	here, moved := r.setIn(0), r.setIn(d)
	usual := asClear * median(here)
	sum, most := 0.0, 0.0
	for k := range here {
		if by := moved[k] - here[k]; by < 0 || moved[k] > usual {
			sum = math.Max(0, sum+by)
		}
		most = math.Max(most, sum)
	}
	return most
}

// setIn returns for each block how suddenly all sounds set in where they should if the
// mark lay by so many frames, at the run's middle, from where it is, in nats.
func (r *reader) setIn(by float64) []float64 {
	out := make([]float64, len(r.blocks))
	for k, g := range r.scale.at {
		for side, found := range r.found {
			for _, a := range found {
				w := sounding{power: a.power / float64(len(r.bands))}.weight(r.blocks[k].Sides[side].Beats)
				out[k] += w * r.onsetNear(side, k, (a.at-by)*g)
			}
		}
	}
	return out
}

// onsetNear returns how suddenly a side's sound sets in about a place of a block, nats.
func (r *reader) onsetNear(side, k int, place float64) float64 {
	best := 0.0
	for b := max(0, r.bin(side, place)-1); b <= min(r.bins-1, r.bin(side, place)+1); b++ {
		best = math.Max(best, float64(r.onsets[side][k][b]))
	}
	return best
}
