package acquisition

import (
	"math"
	"slices"
)

// audibly is by how much, in power, one movement is louder than another where it is
// the one to be followed: 2 dB.
const audibly = 1.6

// louder leaves out the trials of a movement that is weaker than another one within
// earshot: that one is followed. A multiple or fraction of a period is of the same
// movement.
func (s *stretch) louder(trials []*trial) []*trial {
	levels := make([]float64, len(trials))
	loudest := -1
	for i, t := range trials {
		levels[i] = s.level(slices.Concat(t.marks[0], t.marks[1]))
		if evidence(t.blocks, make([]float64, len(t.blocks))) >= leastClear && (loudest < 0 || levels[i] > levels[loudest]) {
			loudest = i
		}
	}
	var out []*trial
	for i, t := range trials {
		if loudest < 0 || levels[i] > levels[loudest]/audibly || commensurate(t.period/trials[loudest].period) {
			out = append(out, t)
		}
	}
	return out
}

// loudest returns which of the candidates that are clear is louder than any of those
// of the periods given, and of another movement; -1 where none is.
func loudest(found []candidate, periods []float64) int {
	best, least := -1, 0.0
	of := func(c candidate) bool {
		return slices.ContainsFunc(periods, func(p float64) bool { return commensurate(c.period / p) })
	}
	for _, c := range found {
		if of(c) {
			least = max(least, audibly*c.level)
		}
	}
	for i, c := range found {
		if !of(c) && c.z >= leastClear && c.level > least {
			best, least = i, c.level
		}
	}
	return best
}

// powerAbout is the energy of the sound about a mark, NaN where it is not all there.
func (s *stretch) powerAbout(mark float64) float64 {
	before, after := int(0.005*s.w.perSec), int(0.015*s.w.perSec)
	at := int(mark)
	if math.IsNaN(mark) || at < before || at+after > len(s.w.x) {
		return math.NaN()
	}
	x := s.w.x[at-before : at+after]
	return float64(dot(x, x))
}

// level is the median power about marks.
func (s *stretch) level(marks []float64) float64 {
	var powers []float64
	for _, m := range marks {
		if p := s.powerAbout(m); !math.IsNaN(p) {
			powers = append(powers, p)
		}
	}
	if len(powers) == 0 {
		return 0
	}
	return median(powers)
}

// commensurate tells whether a ratio of periods is one of the family's, or one to a
// small number: every few beats sound as loud as all of them.
func commensurate(ratio float64) bool {
	const few = 8
	for _, r := range []float64{ratio, 1 / ratio} {
		if n := math.Round(r); n >= 1 && n <= few && math.Abs(r/n-1) < 0.02 {
			return true
		}
	}
	return slices.ContainsFunc(family, func(k float64) bool { return math.Abs(ratio/k-1) < 0.02 })
}
