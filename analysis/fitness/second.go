package fitness

import (
	"math"

	"gonum.org/v1/gonum/stat"
)

// second reports that another movement is heard between the beats: sounds that set
// in there in many intervals, and not in step with the first, or that come in a
// step of their own.
func (s *sound) second() bool {
	const (
		many  = 0.3 // of the intervals
		few   = 10
		apart = 3e-3 // s, standard deviation against the beat before: its own sounds keep their places
	)
	var after, at []float64 // s
	for _, v := range s.gaps {
		_, from := s.around(v)
		if k := sets(v.blocks); k > 0 {
			t := float64(from)/s.rate + blockSeconds*float64(k)
			after, at = append(after, t-v.at/s.rate), append(at, t)
		}
	}
	if len(at) < few || stat.StdDev(after, nil) < apart {
		return false
	}
	return float64(len(at)) > many*float64(len(s.gaps)) || stepped(at, float64(s.run.Beat.Period))
}

// sets returns the block in which a sound sets in, 0 where none does: one far above
// the room and above the block before.
func sets(blocks []float64) int {
	const above, rise = 6, 4 // in power
	if len(blocks) < 4 {
		return 0
	}
	room := part(append([]float64(nil), blocks...), 0.5)
	for k := 1; k < len(blocks); k++ {
		if blocks[k] > above*room && blocks[k] > rise*blocks[k-1] {
			return k
		}
	}
	return 0
}

// stepped reports that instants in s come in one step, as the power of their
// phases at its frequency shows (R. A. Fisher's test of the largest of many, each
// exponential): not at a multiple of the first movement's, between whose beats
// they were looked for.
func stepped(at []float64, period float64) bool {
	const lowest, highest, odds = 0.5, 12.0, 1e3 // Hz, Hz, against chance
	length := at[len(at)-1] - at[0]
	step := 1 / (4 * length)
	most := 0.0
	for f := lowest; f < highest; f += step {
		if k := f * period; math.Abs(k-math.Round(k))/period < 1.5/length {
			continue
		}
		var re, im float64
		for _, t := range at {
			sin, cos := math.Sincos(2 * math.Pi * f * t)
			re, im = re+cos, im+sin
		}
		most = math.Max(most, (re*re+im*im)/float64(len(at)))
	}
	return most > math.Log(odds*(highest-lowest)*length)
}
