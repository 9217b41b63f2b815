package analysis

import (
	"math"
	"slices"

	"rundown/analysis/beat"
	"rundown/dsp/stats"
)

// fewTriples is the fewest times that a beat is heard between two of the other side from
// which it is told how far a movement is out of beat.
const fewTriples = 30

// uneven is by how much a tock came late between two ticks, or they around it, at a time.
type uneven struct {
	beat int     // place among the beats of the one in the middle
	late float64 // s
	lift float64 // s; NaN where it is not told
}

// unevens returns what all beats that are heard between two of the other side tell.
func (s *story) unevens() []uneven {
	var out []uneven
	for i := 1; i+1 < len(s.beats); i++ {
		a, b, c := s.beats[i-1], s.beats[i], s.beats[i+1]
		if !a.Heard || !b.Heard || !c.Heard || a.Index+2 != c.Index {
			continue
		}
		late := b.Time - (a.Time+c.Time)/2
		if b.Side == beat.Tick {
			late = -late
		}
		out = append(out, uneven{i, late, s.liftAt(b.Time)})
	}
	return out
}

// limp is a beat error as a straight line over the lift time.
type limp struct {
	fixed, share float64 // s; of the lift
	seen         bool    // the lift changed enough for the share to be more than taken for granted
}

// limpOf returns the beat error against the lift, NaN where too few beats, or no lift, tell.
// A movement is out of beat by an angle, which stays as it is; near rest, the oscillator
// passes through that and through the lift angle at one speed, so that the beat error is one
// share of the lift throughout a run. Where the lift changes enough, it is seen whether it
// is, by the median of all slopes between parts of the run (P. K. Sen, JASA 63, 1968).
func limpOf(us []uneven) limp {
	const most, enough = 40, 1.05
	us = slices.DeleteFunc(slices.Clone(us), func(u uneven) bool { return math.IsNaN(u.lift) })
	if len(us) < fewTriples {
		return limp{fixed: math.NaN(), share: math.NaN()}
	}
	var lates, lifts, shares []float64
	parts := min(most, len(us)/fewTriples)
	for k := range parts {
		var late, lift []float64
		for _, u := range us[k*len(us)/parts : (k+1)*len(us)/parts] {
			late, lift = append(late, u.late), append(lift, u.lift)
		}
		lates, lifts = append(lates, stats.Median(late)), append(lifts, stats.Median(lift))
		shares = append(shares, lates[k]/lifts[k])
	}
	if slices.Max(lifts) < enough*slices.Min(lifts) {
		return limp{share: stats.Median(shares)}
	}
	var slopes, fixed []float64
	for i := range lates {
		for k := range i {
			if d := lifts[i] - lifts[k]; d != 0 {
				slopes = append(slopes, (lates[i]-lates[k])/d)
			}
		}
	}
	l := limp{share: stats.Median(slopes), seen: true}
	for i, v := range lates {
		fixed = append(fixed, v-l.share*lifts[i])
	}
	l.fixed = stats.Median(fixed)
	return l
}

// lawful is by what part of its growth a beat error is off the line that the run itself
// tells, and lawless where one side was marked by several of its sounds, which move with the
// lift as well (by feel).
const (
	lawful  = 0.2
	lawless = 1
)

// beatError returns what beat error is to be expected at a true time, both in seconds, NaN
// where the lift is not told, by how much it was seen to grow with the lift, NaN where that
// did not change enough, and by what part of its growth it may be off.
func (s *story) beatError() (expected func(at float64) float64, share, off float64) {
	l := limpOf(s.unevens())
	off = lawful
	if len(s.slipped) > 0 {
		off = lawless
	}
	share = math.NaN()
	if l.seen {
		share = l.share
	}
	return func(at float64) float64 { return l.fixed + l.share*s.liftAt(at) }, share, off
}

// liftAt returns the lift at a true time, both in seconds, NaN where it is not told.
func (s *story) liftAt(at float64) float64 {
	for i := len(s.marks) - 1; i >= 0; i-- {
		if m := &s.marks[i]; i == 0 || m.From <= at {
			if !m.Reading.Told() {
				break
			}
			lift, _ := m.Reading.Lift.Lift(at)
			return lift
		}
	}
	return math.NaN()
}
