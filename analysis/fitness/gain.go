package fitness

import (
	"math"

	"gonum.org/v1/gonum/stat"

	"rundown/dsp/stats"
)

// gated reports that the recorder silences the room between the beats: it writes
// what no microphone gives, or switches between two levels of noise time and
// again.
func (s *sound) gated() bool {
	return s.found() && (s.silences() || s.switches())
}

// silences reports that much of the time between beats is digital silence, though
// the beats are far above the least that the samples can hold.
func (s *sound) silences() bool {
	const (
		step    = 1.5 / (1 << 15)
		far     = 100
		greatly = 0.2
	)
	if s.peak() < far*step {
		return false
	}
	n := int(blockSeconds * s.rate)
	var silent, all float64
	for _, v := range s.gaps {
		from, to := s.around(v)
		end := int(v.at+v.length) - (int(v.at) - from)
		for ; to+n <= end; to += n {
			all++
			if flat(s.x[to:to+n], step) {
				silent++
			}
		}
	}
	return silent > greatly*all
}

// flat reports that samples stay within a step of their first.
func flat(x []float32, step float64) bool {
	for _, v := range x {
		if math.Abs(float64(v-x[0])) > step {
			return false
		}
	}
	return true
}

// switches reports that the room between beats has two levels, at least apart dB
// from each other with next to nothing between them, and goes from one to the other
// about as often as the movement beats.
func (s *sound) switches() bool {
	const (
		apart   = 10.0
		least   = 0.08 // of the blocks, at either level
		between = 0.03
		often   = 0.3 // of the intervals
	)
	var levels []float64
	for _, v := range s.gaps {
		for _, e := range v.blocks {
			levels = append(levels, 10*math.Log10(e+1e-16))
		}
	}
	if len(levels) < 100 {
		return false
	}
	sorted := append([]float64(nil), levels...)
	low, high := part(sorted, least), part(sorted, 1-least)
	for cut := low + apart/2; cut < high-apart/2; cut++ {
		if share(sorted, cut-apart/4, cut+apart/4) < between && s.crossings(cut) > often*float64(len(s.gaps)) {
			return true
		}
	}
	return false
}

// share returns which part of sorted figures lies within bounds.
func share(sorted []float64, from, to float64) float64 {
	return stat.CDF(to, stat.Empirical, sorted, nil) - stat.CDF(from, stat.Empirical, sorted, nil)
}

// crossings counts how often the room goes past a level between beats, dB.
func (s *sound) crossings(cut float64) (n float64) {
	for _, v := range s.gaps {
		for i := 1; i < len(v.blocks); i++ {
			a, b := 10*math.Log10(v.blocks[i-1]+1e-16), 10*math.Log10(v.blocks[i]+1e-16)
			if (a < cut) != (b < cut) {
				n++
				break
			}
		}
	}
	return n
}

// gainMoves reports that the recorder's gain moves: the room grows louder from one
// beat to the next, as where a gain recovers from each of them, or beats and room
// grow louder and softer together.
func (s *sound) gainMoves() bool {
	const few = 10
	return len(s.gaps) >= few && (s.recovers() || s.breathes())
}

// recovers reports that the room is louder before the next beat than in the middle
// between the two: what rings only dies away.
func (s *sound) recovers() bool {
	const rise = 1.5 // dB
	var rises []float64
	for _, v := range s.gaps {
		n := len(v.blocks)
		if n < 6 {
			continue
		}
		third := n / 3
		rises = append(rises, 10*math.Log10((stat.Mean(v.blocks[n-third:], nil)+1e-16)/(stat.Mean(v.blocks[third:2*third], nil)+1e-16)))
	}
	return len(rises) > 0 && stats.Median(rises) > rise
}

// breathes reports that the levels of beats and room go together: their changes
// correlate, though the one comes from the movement and the other from the room.
func (s *sound) breathes() bool {
	const (
		together = 0.7
		by       = 0.8 // dB, standard deviation of either
		seconds  = 1
	)
	var beats, room []float64
	var some, calm []float64
	end := seconds * s.rate
	for _, v := range s.gaps {
		if v.at > end && len(some) > 0 {
			beats, room = append(beats, stats.Median(some)), append(room, stats.Median(calm))
			some, calm, end = some[:0], calm[:0], v.at+seconds*s.rate
		}
		if q := v.quiet(); len(q) > 0 {
			some = append(some, decibels(v.peak/s.peaks[v.side]))
			calm = append(calm, 10*math.Log10(stat.Mean(q, nil)+1e-16))
		}
	}
	if len(beats) < 8 {
		return false
	}
	return stat.StdDev(beats, nil) > by && stat.StdDev(room, nil) > by && stat.Correlation(beats, room, nil) > together
}
