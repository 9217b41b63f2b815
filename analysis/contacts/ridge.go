package contacts

import (
	"cmp"
	"math"
	"slices"

	"rundown/dsp/parallel"
)

// ridge is a sound that was followed from block to block.
type ridge struct {
	side     int
	at       []float64 // where it sets in, frames relative to the mark
	evidence float64   // mean onset strength along it, nats
}

// fastest is how much of the time a sound moves against the mark at the most, as long as
// the lift is what it is in the middle of the run: that of a balance that stops in ten
// minutes grows by a tenth of a millisecond in a second. As the amplitude falls evenly, a
// lift grows by its own square.
const fastest = 5e-4

// The costs, in nats, of moving by one bin away from the anchor, where one sound
// is followed and where several are together, and of moving towards it: sounds
// stay where they are unless something speaks for a move, as a spring runs down
// they move apart, and one of them alone may be taken for another.
const (
	outwardAlone    = 3
	outwardTogether = 0.2
	inward          = 60
)

// oftenMoves is how many bins a second a sound moves at the most before its run nears a
// stop: that it does in less time than a move takes is the less probable (Poisson), and
// noise must not lead it away from beat to beat.
const oftenMoves = 1.5

// ofPeriod is the period, s, for which these hold: in a longer one, a lift and all
// that it does are longer.
const ofPeriod = 0.4

// settling is how much of a stack's start is left out, s: whitening and filters have
// not heard enough of the room there.
const settling = 4e-3

// sounding is one of the sounds of a beat: where it lies against the others that
// it is followed with, in a common unit.
type sounding struct {
	side  int
	ratio float64
	power float64 // of one beat's, in units of the room's; infinite where it is not known
}

// weight is what the onset of a sound counts where it is heard in the mean of so many
// beats, at most 1: its logarithm over the room's, as in the ratio of the likelihoods of
// two means. Of what is too weak to be heard, noise is all there is.
func (s sounding) weight(beats int) float64 {
	if beats == 0 {
		return 0
	}
	return math.Min(1, math.Log1p(float64(beats)*s.power))
}

// ridges returns the courses of the sounds that set in most clearly beside the mark over the
// run, before and after it on either side, the clearest first.
func (s *sheet) ridges(onsets [2][][]float32) []ridge {
	found := make([]ridge, 4)
	parallel.Each(len(found), func(i int) {
		side, sign := i/2, float64(i%2*2-1)
		found[i] = s.path(onsets, []sounding{{side, sign, math.Inf(1)}}, outwardAlone)
	})
	found = slices.DeleteFunc(found, func(r ridge) bool { return r.at == nil })
	slices.SortStableFunc(found, func(a, b ridge) int { return cmp.Compare(b.evidence, a.evidence) })
	return found
}

// onsets returns how suddenly the sound of a side sets in at each bin of each
// block, in nats: over all bands, the power of the third of a millisecond from
// there on over that of the millisecond before, the room's added to both.
func (s *sheet) onsets(side int) [][]float32 {
	after, before := s.span(0.35e-3), s.span(0.8e-3)
	out := make([][]float32, len(s.blocks))
	sum := make([]float32, s.bins+1)
	for k := range out {
		out[k] = make([]float32, s.bins)
		for band, power := range s.power[side] {
			weight := 1 / fading(s.width(band), afterSeconds, beforeSeconds)
			for j, v := range power[k] {
				sum[j+1] = sum[j] + v
			}
			for j := before; j+after <= s.bins; j++ {
				a := (sum[j+after]-sum[j])/float32(after) + 1
				b := (sum[j]-sum[j-before])/float32(before) + 1
				out[k][j] += float32(weight * math.Log(float64(a/b)))
			}
		}
	}
	return out
}

// path returns the most probable course of the first of the given sounds, on its
// side of the anchor, by the onsets of all of them together (A. J. Viterbi, IEEE Trans.
// Inf. Theory 13, 1967).
func (s *sheet) path(onsets [2][][]float32, sounds []sounding, outward float64) ridge {
	side := sounds[0].side
	lo, hi := s.span(settling), s.bin(side, 0)-s.span(s.apart())
	if sounds[0].ratio > 0 {
		lo, hi = s.bin(side, 0)+s.span(s.apart()), s.bins-s.span(1e-3)
	}
	n := hi - lo
	if n < 3 {
		return ridge{}
	}
	places := make([][]int, len(sounds))
	for i, snd := range sounds {
		places[i] = make([]int, n)
		for j := range n {
			places[i][j] = s.bin(snd.side, s.place(side, lo+j)*snd.ratio/sounds[0].ratio)
		}
	}
	scale := math.Min(1, ofPeriod/s.period)
	outward *= scale
	grown := s.grown(side, lo, n, sounds)
	weights := make([]float64, len(sounds))
	back := make([][]int8, len(s.blocks))
	now, next := make([]float64, n), make([]float64, n)
	last := s.time(0)
	for k := range s.blocks {
		step := s.time(k) - last
		last = s.time(k)
		back[k] = make([]int8, n)
		for i, snd := range sounds {
			weights[i] = snd.weight(s.blocks[k].Sides[snd.side].Beats)
		}
		for j := range n {
			reach := min(48, 1+int(step*fastest*grown[j]/float64(s.hop)))
			soon := math.Max(0, -math.Log(oftenMoves*grown[j]*step/s.rate+1e-9)) // what a bin costs besides
			below, above := outward+soon, scale*inward                           // what a bin costs
			if sounds[0].ratio < 0 {
				below, above = above, below
			}
			top, from := bestStep(now, j, reach, below, above)
			back[k][j] = int8(from)
			for i, snd := range sounds {
				if b := places[i][j]; b >= 0 && b < s.bins {
					top += weights[i] * float64(onsets[snd.side][k][b])
				}
			}
			next[j] = top
		}
		now, next = next, now
	}
	j := 0
	for i, v := range now {
		if v > now[j] {
			j = i
		}
	}
	r := ridge{side: side, at: make([]float64, len(s.blocks)), evidence: now[j] / float64(len(s.blocks))}
	for k := len(s.blocks) - 1; k >= 0; k-- {
		r.at[k] = s.place(side, lo+j)
		j += int(back[k][j])
	}
	return r
}

// bestStep returns how good the best path is that comes to bin j from one no farther than reach, and by
// how many bins that lies above it; each bin costs so much from below, and from above.
func bestStep(now []float64, j, reach int, below, above float64) (top float64, from int) {
	top = math.Inf(-1)
	for d := max(-reach, -j); d < 0; d++ {
		if v := now[j+d] - below*float64(-d); v > top {
			top, from = v, d
		}
	}
	for d, v := range now[j:min(len(now), j+reach+1)] {
		if v -= above * float64(d); v > top {
			top, from = v, d
		}
	}
	return top, from
}

// grown returns for each of n bins of a side from lo on by how much faster a lift grows
// with the first of the sounds there than in the middle of the run, at least 1: where it
// is followed alone, that is not known.
func (s *sheet) grown(side, lo, n int, sounds []sounding) []float64 {
	out := make([]float64, n)
	for j := range out {
		out[j] = 1
		if len(sounds) > 1 {
			g := s.place(side, lo+j) / sounds[0].ratio
			out[j] = math.Max(1, g*g)
		}
	}
	return out
}
