package analysis

import (
	"math"

	"rundown/analysis/beat"
	"rundown/dsp/stats"
)

// fewTriples is the fewest times that a beat is heard between two of the other side from
// which it is told how far a movement is out of beat.
const fewTriples = 30

// beatError returns what beat error is to be expected at a true time, both in seconds, NaN
// where the lift is not told. A movement is out of beat by an angle, which stays as it is;
// near rest, the oscillator passes through that and through the lift angle at one speed: the
// beat error is the same part of the lift time throughout a run.
func (s *story) beatError() func(at float64) float64 {
	var parts []float64
	for i := 1; i+1 < len(s.beats); i++ {
		a, b, c := s.beats[i-1], s.beats[i], s.beats[i+1]
		if !a.Heard || !b.Heard || !c.Heard || a.Index+2 != c.Index {
			continue
		}
		late := b.Time - (a.Time+c.Time)/2
		if b.Side == beat.Tick {
			late = -late
		}
		if lift := s.liftAt(b.Time); !math.IsNaN(lift) {
			parts = append(parts, late/lift)
		}
	}
	part := math.NaN()
	if len(parts) >= fewTriples {
		part = stats.Median(parts)
	}
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
