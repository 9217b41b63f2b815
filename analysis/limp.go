package analysis

import (
	"math"

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
	part float64 // of the lift; NaN where that is not told
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
		out = append(out, uneven{i, late, late / s.liftAt(b.Time)})
	}
	return out
}

// partOfLift returns which part of the lift the beat error is, NaN where too few beats, or
// no lift, tell.
func partOfLift(us []uneven) float64 {
	var parts []float64
	for _, u := range us {
		if !math.IsNaN(u.part) {
			parts = append(parts, u.part)
		}
	}
	if len(parts) < fewTriples {
		return math.NaN()
	}
	return stats.Median(parts)
}

// beatError returns what beat error is to be expected at a true time, both in seconds, NaN
// where the lift is not told. A movement is out of beat by an angle, which stays as it is;
// near rest, the oscillator passes through that and through the lift angle at one speed: the
// beat error is the same part of the lift time throughout a run.
func (s *story) beatError() func(at float64) float64 {
	part := partOfLift(s.unevens())
	return func(at float64) float64 { return part * s.liftAt(at) }
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
