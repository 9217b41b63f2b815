package contacts

import (
	"math"
	"slices"
)

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
					most = math.Max(most, math.Max(r.slipBy(d, side), r.slipBy(d, 0, 1)))
					tried += 2 * float64(len(r.blocks))
				}
			}
		}
	}
	return most > math.Log(tried/falseSlip)
}

// slipBy returns the most evidence, in nats, that the mark of some blocks in a row lies
// by a distance, in frames at the run's middle, from where it is in the others. Moved by
// it, the sounds have to set in about as clearly as they do elsewhere: where the lift was
// lost, they do so nowhere. Only the given sides count.
func (r *reader) slipBy(d float64, sides ...int) float64 {
	const asClear = 0.6
	here, moved := make([]float64, len(r.blocks)), make([]float64, len(r.blocks))
	for _, side := range sides {
		for _, a := range r.found[side] {
			r.setIn(here, moved, side, a, d)
		}
	}
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

// setIn adds for each block how suddenly a sound sets in where it should, in nats, and where
// it should if the mark lay by d frames, at the run's middle, from where it is: no more
// suddenly than it does where it is clearest, for a quarter of the run. The loudest sound in the
// place of another one is none of it. The sound that is the mark stays where it is, however long
// the lift becomes.
func (r *reader) setIn(here, moved []float64, side int, a arrival, d float64) {
	own, other := make([]float64, len(here)), make([]float64, len(here))
	isMark := math.Abs(a.at) < r.frames(r.apart())
	for k, g := range r.scale.at {
		at := a.at * g
		if isMark {
			at = a.at
		}
		w := sounding{power: a.power / float64(len(r.bands))}.weight(r.blocks[k].Sides[side].Beats)
		own[k] = w * r.onsetNear(side, k, at)
		other[k] = w * r.onsetNear(side, k, at-d*g)
	}
	most := slices.Sorted(slices.Values(own))[len(own)*3/4]
	for k := range here {
		here[k] += math.Min(own[k], most)
		moved[k] += math.Min(other[k], most)
	}
}

// onsetNear returns how suddenly a side's sound sets in about a place of a block, nats.
func (r *reader) onsetNear(side, k int, place float64) float64 {
	best := 0.0
	for b := max(0, r.bin(side, place)-1); b <= min(r.bins-1, r.bin(side, place)+1); b++ {
		best = math.Max(best, float64(r.onsets[side][k][b]))
	}
	return best
}
