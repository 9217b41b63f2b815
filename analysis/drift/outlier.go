package drift

import (
	"math"

	"rundown/dsp/stats"
)

// rejectOutliers leaves out observations that no straight line through two of their
// neighbours predicts, nor a curve that bends one way through them: off by more
// than their error explains, and by far more than the observations around. It
// takes a few passes, since a bad neighbour predicts badly.
func (s *smoother) rejectOutliers() {
	const (
		passes = 3
		far    = 5  // standard errors
		usual  = 12 // medians of those around: 1 % of plain scatter is further off
		local  = 5
	)
	off, bent := make([]float64, len(s.obs)), make([]bool, len(s.obs))
	var around []float64
	for range passes {
		for i := range s.obs {
			off[i], bent[i] = s.off(i), s.bent(i)
		}
		for i, o := range s.obs {
			around = around[:0]
			for k := max(0, i-local); k <= min(len(off)-1, i+local); k++ {
				if k != i {
					around = append(around, off[k])
				}
			}
			s.bad[i] = len(around) > 0 && off[i] > far*o.SE && off[i] > usual*stats.Median(around) && !bent[i]
		}
	}
}

// off returns how far observation i is from the nearest prediction by two of
// the good observations next to it; 0 where there are none.
func (s *smoother) off(i int) float64 {
	b1 := s.good(i, -1)
	b2, a1 := s.good(b1, -1), s.good(i, 1)
	a2 := s.good(a1, 1)
	nearest := math.Inf(1)
	for _, pair := range [][2]int{{b1, a1}, {b2, b1}, {a1, a2}, {b2, a2}} {
		if pair[0] >= 0 && pair[1] >= 0 {
			above, _ := s.above(i, pair[0], pair[1])
			nearest = math.Min(nearest, math.Abs(above))
		}
	}
	if math.IsInf(nearest, 1) {
		return 0
	}
	return nearest
}

// above returns how far observation i is above the straight line through two
// others, and the standard error of that.
func (s *smoother) above(i, a, b int) (x, se float64) {
	o, p, q := s.obs[i], s.obs[a], s.obs[b]
	u := (o.Time - p.Time) / (q.Time - p.Time)
	return o.Value - p.Value - u*(q.Value-p.Value), math.Sqrt(o.SE*o.SE + (1-u)*(1-u)*p.SE*p.SE + u*u*q.SE*q.SE)
}

// bent reports whether observation i lies on a curve that bends one way through
// the good observations next to it, however sharply: on one side of the chord
// between its neighbours, and on the other side of the lines that extend them.
// Where there are neighbours on one side alone, it asks whether they steepen
// towards it.
func (s *smoother) bent(i int) bool {
	before, after := s.good(i, -1), s.good(i, 1)
	switch {
	case before < 0 && after < 0:
		return false
	case before < 0:
		return s.steepens(i, 1)
	case after < 0:
		return s.steepens(i, -1)
	}
	chord, _ := s.above(i, before, after)
	extended := false
	for _, side := range [][2]int{{before, -1}, {after, 1}} {
		if next := s.good(side[0], side[1]); next >= 0 {
			if line, _ := s.above(i, side[0], next); line*chord > 0 {
				return false
			}
			extended = true
		}
	}
	return extended
}

// steepens reports whether the good observations from i on in the direction by,
// of which i is the last one the other way, bend towards it: the next one
// plainly the same way, and i not out of proportion. The proportion is that of
// the bends further on; where they drown in noise, that of a curve that dies
// away by as much from one observation to the next.
func (s *smoother) steepens(i, by int) bool {
	const (
		plain = 3  // standard errors
		tops  = 4  // times the growth of the bends so far: that of a pole is less
		dying = 20 // by e³
	)
	var bend, se [3]float64
	at, n := i, 0
	for ; n < len(bend); n++ {
		next := s.good(at, by)
		after := s.good(s.good(next, by), by)
		if after < 0 {
			break
		}
		bend[n], se[n] = s.above(at, next, after)
		at = next
	}
	if bend[0] < 0 {
		for k := range bend {
			bend[k] = -bend[k]
		}
	}
	if n < 2 || bend[1] < plain*se[1] {
		return false
	}
	limit := float64(dying)
	if n == 3 && bend[2] > plain*se[2] {
		limit = tops * math.Max(1, bend[1]/bend[2])
	}
	return bend[0] <= limit*bend[1]
}

// good returns the next good observation of the same stretch in the direction
// by, -1 where there is none.
func (s *smoother) good(i, by int) int {
	for i >= 0 {
		if by < 0 && s.obs[i].Fresh {
			return -1
		}
		if i += by; i < 0 || i >= len(s.obs) || by > 0 && s.obs[i].Fresh {
			return -1
		}
		if !s.bad[i] {
			return i
		}
	}
	return -1
}
