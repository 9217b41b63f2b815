package analysis

import (
	"math"
	"slices"

	"rundown/analysis/beat"
	"rundown/dsp/stats"
)

// A beat error leaps where the movement is put in beat, and then both sides move by half of
// that; where one side alone moves, it is marked by another of its sounds from there on. It
// leaps where the slipAcross values before and those after a
// place, each drawn on to it, are further apart than leastSlip, s, which is less than any
// two contacts are apart, and than so many of their standard deviations.
const (
	slipAcross  = 15
	leastSlip   = 0.25e-3
	plainlySlip = 8
)

// leap is where the beat error leaps.
type leap struct {
	at int     // place among the unevens of the first one after it
	by float64 // s
}

// slips takes the beats of a side for not heard wherever they are marked by another of their
// sounds than in most of the run: the other side tells the rate there.
func (s *story) slips() {
	us := s.unevens()
	usually := limpOf(us)
	off := make([]float64, len(us)) // from the beat error expected, s
	for i, u := range us {
		off[i] = u.late
		if e := usually.fixed + usually.share*u.lift; !math.IsNaN(e) {
			off[i] -= e
		}
	}
	leaps := leapsIn(off)
	if len(leaps) == 0 {
		return
	}
	side, alone := s.leaping(us, leaps)
	if !alone {
		return
	}
	levels, usual, apart := plateaus(off, leaps)
	slipped, beats := 0, 0
	at := 0 // next leap
	for i, b := range s.beats {
		for at < len(leaps) && us[leaps[at].at].beat <= i {
			at++
		}
		if b.Side != side || !b.Heard {
			continue
		}
		beats++
		if math.Abs(levels[at]-usual) > leastSlip {
			s.beats[i].Heard = false
			slipped++
		}
	}
	if slipped == 0 {
		return
	}
	for i := range s.marks {
		s.marks[i].Reading.Widen(apart)
	}
	s.slipped = append(s.slipped, slipping{side, float64(slipped) / float64(beats)})
}

// slipping is a side of which a share of the beats is marked by another of their sounds.
type slipping struct {
	side  beat.Side
	share float64
}

// leapsIn returns where values leap, in order.
func leapsIn(x []float64) []leap {
	var steps []float64
	for i := 1; i < len(x); i++ {
		steps = append(steps, math.Abs(x[i]-x[i-1]))
	}
	if len(steps) < 4*slipAcross {
		return nil
	}
	// The median magnitude of the difference of two normal values is 0.6745 times the root
	// of two of their standard deviations.
	least := math.Max(leastSlip, plainlySlip*stats.Median(steps)/0.6745/math.Sqrt2)
	var out []leap
	for i := slipAcross; i+slipAcross <= len(x); i++ {
		by := drawnTo(x[i:i+slipAcross], -1) - drawnTo(x[i-slipAcross:i], 1)
		if math.Abs(by) < least {
			continue
		}
		if n := len(out); n > 0 && i-out[n-1].at < slipAcross {
			if math.Abs(by) > math.Abs(out[n-1].by) {
				out[n-1] = leap{i, by}
			}
			continue
		}
		out = append(out, leap{i, by})
	}
	return out
}

// drawnTo returns where a line through the medians of three parts of some values is at their
// end, or with end −1 at their start.
func drawnTo(x []float64, end float64) float64 {
	third := len(x) / 3
	var m [3]float64
	for i := range m {
		m[i] = stats.Median(slices.Clone(x[i*third : (i+1)*third]))
	}
	slope := (m[2] - m[0]) / 2 // a third
	return (m[0]+m[1]+m[2])/3 + end*1.5*slope
}

// plateaus returns where values lie between leaps, where most of all lie, and how far from
// there they are in root mean square.
func plateaus(x []float64, leaps []leap) (levels []float64, usual, off float64) {
	from := 0
	var lengths []float64
	for i := range len(leaps) + 1 {
		to := len(x)
		if i < len(leaps) {
			to = leaps[i].at
		}
		levels = append(levels, stats.Median(slices.Clone(x[from:to])))
		lengths = append(lengths, float64(to-from))
		from = to
	}
	most := 0.0
	for _, o := range levels {
		there := 0.0
		for k, p := range levels {
			if math.Abs(p-o) < leastSlip {
				there += lengths[k]
			}
		}
		if there > most {
			usual, most = o, there
		}
	}
	for k, o := range levels {
		off += lengths[k] / float64(len(x)) * (o - usual) * (o - usual)
	}
	return levels, usual, math.Sqrt(off)
}

// leaping returns the side whose beats leap more where the beat error does, all leaps
// together, and whether it leaps alone: by more than twice as much as the other one.
func (s *story) leaping(us []uneven, leaps []leap) (side beat.Side, alone bool) {
	var by [2]float64
	for _, l := range leaps {
		middle := us[l.at].beat
		for side := range by {
			by[side] += math.Abs(s.ownLeap(beat.Side(side), middle))
		}
	}
	if by[beat.Tock] > by[beat.Tick] {
		side = beat.Tock
	}
	return side, by[side] > 2*by[side^1]
}

// ownLeap returns by how much the beats of a side leap at a place among all beats, by those
// of its own before and after, s.
func (s *story) ownLeap(side beat.Side, place int) float64 {
	own := func(step int) (at []beat.Beat, periods []float64) { // from the place on
		for i := place; i >= 0 && i < len(s.beats) && len(at) < slipAcross; i += step {
			if b := s.beats[i]; b.Side == side && b.Heard && (step > 0 || i < place) {
				if n := len(at); n > 0 {
					periods = append(periods, (b.Time-at[n-1].Time)/float64(b.Index-at[n-1].Index))
				}
				at = append(at, b)
			}
		}
		return at, periods
	}
	after, forth := own(1)
	before, back := own(-1)
	if len(forth) == 0 || len(back) == 0 {
		return 0
	}
	interval := (stats.Median(forth) + stats.Median(back)) / 2
	usual := func(bs []beat.Beat) float64 {
		var out []float64
		for _, b := range bs {
			out = append(out, b.Time-interval*float64(b.Index))
		}
		return stats.Median(out)
	}
	return usual(after) - usual(before)
}
