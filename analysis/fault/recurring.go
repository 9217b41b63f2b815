package fault

import (
	"math"
	"slices"
)

// recurring is a recurrence of events, before it has a name.
type recurring struct {
	coincidence
	events []occurrence // those explained
	passed int          // times that a phase came by while the movement ran
}

// maxRecurring bounds the recurrences that are looked for in one group of events.
const maxRecurring = 8

// findRecurring looks for periods at which events return, one after the other. The
// events are in order of beat, which counts from the first one of the run.
func findRecurring(events []occurrence, length int64, parts []part) []recurring {
	var list []recurring
	left := apart(events)
	for len(list) < maxRecurring && len(left) >= fewest {
		beats := make([]int64, len(left))
		for i, e := range left {
			beats[i] = e.beat
		}
		s := newScan(beats, length)
		s.parts(parts)
		s.whole()
		s.any()
		if s.best.logp > math.Log(significant) {
			break
		}
		r := recurring{coincidence: s.best}
		left = slices.DeleteFunc(slices.Clone(left), func(e occurrence) bool {
			hit := r.explains(e.beat) >= 0
			if hit {
				r.events = append(r.events, e)
			}
			return hit
		})
		r.centre()
		r.passed = r.passes(length)
		list = merge(list, r)
	}
	return list
}

// apart returns the events that are not within two beats of one before: what
// follows so closely is the same trouble.
func apart(events []occurrence) []occurrence {
	const tooClose = 2 // beats
	var out []occurrence
	last := int64(math.MinInt64 / 2)
	for _, e := range events {
		if e.beat-last > tooClose {
			out = append(out, e)
		}
		last = e.beat
	}
	return out
}

// centre moves the phases to the median of their events.
func (r *recurring) centre() {
	for i, phase := range r.phases {
		var offsets []float64
		for _, e := range r.events {
			if r.explains(e.beat) == i {
				offsets = append(offsets, r.offset(e.beat, phase))
			}
		}
		if len(offsets) > 0 {
			slices.Sort(offsets)
			at := phase + offsets[(len(offsets)-1)/2]
			r.phases[i] = at - r.period*math.Floor(at/r.period+1e-9)
		}
	}
}

// passes counts how often the phases came by in a run of some beats.
func (r *recurring) passes(length int64) int {
	n := 0
	for _, phase := range r.phases {
		if last := float64(length-1) - phase; last >= 0 {
			n += int(math.Floor(last/r.period+1e-9)) + 1
		}
	}
	return n
}

// merge adds r to the list, or to the recurrence in it that has the same period:
// several teeth of one wheel are one recurrence.
func merge(list []recurring, r recurring) []recurring {
	for i := range list {
		if l := &list[i]; math.Abs(l.period-r.period) < 1e-6*r.period {
			l.phases = append(l.phases, r.phases...)
			l.events = append(l.events, r.events...)
			l.passed += r.passed
			return list
		}
	}
	return append(list, r)
}

// medianShift is the median displacement of the events, in seconds.
func (r *recurring) medianShift() float64 {
	shifts := make([]float64, len(r.events))
	for i, e := range r.events {
		shifts[i] = e.shift
	}
	slices.Sort(shifts)
	n := len(shifts)
	return (shifts[n/2] + shifts[(n-1)/2]) / 2
}
