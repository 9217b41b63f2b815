package drift

import (
	"math"
	"slices"

	"rundown/dsp/stats"
)

// raiseProcessNoise gives the slope the freedom to turn where good observations plainly
// bend, far beyond what is usual in the series: one process noise for a whole run
// would have to be that of its steep ends, and would smooth nothing between
// them. The sharpest bends are looked for first, gentler ones between
// observations further apart, outside of those found already.
func (s *smoother) raiseProcessNoise() {
	const (
		widest = 8      // observations from one to the next
		fading = 1. / 4 // of a bend, from one observation to the next
	)
	for apart := 1; apart <= widest; apart *= 2 {
		s.loosenAt(apart)
	}
	// A bend does not end where the noise begins to hide it: it dies away.
	for i := 1; i < len(s.obs)-1; i++ {
		if !s.obs[i+1].Fresh {
			s.free[i] = math.Max(s.free[i], fading*s.free[i-1])
		}
	}
	for i := len(s.obs) - 3; i >= 0; i-- {
		if !s.obs[i+1].Fresh {
			s.free[i] = math.Max(s.free[i], fading*s.free[i+1])
		}
	}
}

// bend is a turn of the slope at an Observation, between two others.
type bend struct {
	from, at, to int
	above        float64 // how far at is above the line from from to to
	size         float64 // the same in standard errors, without sign
}

// loosenAt looks for bends between every so many good observations.
func (s *smoother) loosenAt(apart int) {
	const plain = 4 // standard errors
	bends := s.bends(apart)
	if len(bends) == 0 {
		return
	}
	sizes := make([]float64, len(bends))
	for i, b := range bends {
		sizes[i] = b.size
	}
	least := plain * math.Max(1, stats.PerMedian*stats.Median(sizes))
	free := slices.Clone(s.free)
	for i, b := range bends {
		taken := slices.ContainsFunc(s.free[b.from:b.to], func(x float64) bool { return x > 0 })
		if b.size < least || taken || alone(bends, i, apart) {
			continue
		}
		before, after := s.obs[b.at].Time-s.obs[b.from].Time, s.obs[b.to].Time-s.obs[b.at].Time
		turn := b.above * (1/before + 1/after)
		for k := b.from; k < b.to; k++ {
			free[k] += turn * turn / (before + after)
		}
	}
	s.free = free
}

// alone reports whether bend i may be that of a single observation out of line.
// Such a one bends the series half as far the other way on both sides of it,
// which a course that turns does not; at an end, where it has one side only,
// the next bend has to go the same way.
func alone(bends []bend, i, apart int) bool {
	const plain = 2 // standard errors
	b := &bends[i]
	around, size, n := 0., 0., 0
	for _, k := range []int{i - apart, i + apart} {
		if k >= 0 && k < len(bends) && (bends[k].to == b.at || bends[k].from == b.at) {
			around += bends[k].above * math.Copysign(1, b.above)
			size += bends[k].size
			n++
		}
	}
	if n == 2 {
		return around < -math.Abs(b.above)/2
	}
	return around <= 0 || size < plain
}

// bends returns those of every three good observations of the same stretch that
// have apart − 1 good ones between them.
func (s *smoother) bends(apart int) []bend {
	var out []bend
	var good []int
	for i := range s.obs {
		if s.obs[i].Fresh {
			good = good[:0]
		}
		if s.bad[i] {
			continue
		}
		good = append(good, i)
		if n := len(good) - 1; n >= 2*apart {
			b := bend{from: good[n-2*apart], at: good[n-apart], to: i}
			x, se := s.above(b.at, b.from, b.to)
			b.above, b.size = x, math.Abs(x)/se
			out = append(out, b)
		}
	}
	return out
}
