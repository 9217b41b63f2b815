package analysis

import (
	"cmp"
	"fmt"
	"slices"

	"rundown/analysis/beat"
	"rundown/analysis/sequence"
)

// gaps makes one event of each stretch of zeros that the recorder wrote, in place of
// what the tracker made of the beats in them. Of the last, which nothing ends, it
// keeps no beats. The duration of the recording is in seconds.
func (s *story) gaps(zeros []beat.Stretch, duration float64) {
	shifts := make([]float64, len(zeros))
	margin := s.interval()
	s.events = slices.DeleteFunc(s.events, func(ev beat.Event) bool {
		i, _ := slices.BinarySearchFunc(zeros, ev.Start-margin, func(z beat.Stretch, at float64) int { return cmp.Compare(z.End, at) })
		within := ev.Kind == beat.Gap && i < len(zeros) && zeros[i].Start <= ev.End+margin
		if within {
			shifts[i] += ev.Shift
		}
		return within
	})
	if n := len(zeros); n > 0 && zeros[n-1].End >= duration {
		s.end(zeros[n-1].Start)
	}
	for i, z := range zeros {
		s.events = append(s.events, beat.Event{Kind: beat.Gap, Beat: s.concerned(z.Start), Start: z.Start, End: z.End, Shift: shifts[i], Note: "the recording holds digital silence here"})
	}
}

// end drops the beats after a time, in seconds, that were not heard.
func (s *story) end(at float64) {
	n := len(s.beats)
	for n > 1 && !s.beats[n-1].Heard && s.beats[n-1].Time > at-s.interval()/2 {
		n--
	}
	s.beats = s.beats[:n]
}

// concerned returns the number of the first beat that a gap from a time on, in
// seconds, concerns.
func (s *story) concerned(from float64) int64 {
	for _, b := range s.beats[s.after(from-s.interval()/2):] {
		if !b.Heard || b.Time >= from {
			return b.Index
		}
	}
	return s.beats[len(s.beats)-1].Index + 1
}

// bridge gives a step that spans a gap to that: the recorder made it, and not the
// movement. The events are in order of time. It reports whether there is a gap
// between the beat of the step and the last one heard before it.
func (s *story) bridge(p sequence.Step) bool {
	i := s.place(p.Beat)
	heard := i - 1
	for heard >= 0 && !s.beats[heard].Heard {
		heard--
	}
	if heard < 0 {
		return false
	}
	k, _ := slices.BinarySearchFunc(s.events, s.beats[heard].Time, func(ev beat.Event, at float64) int { return cmp.Compare(ev.Start, at) })
	for ; k < len(s.events) && s.events[k].Start < s.beats[i].Time; k++ {
		if ev := &s.events[k]; ev.Kind == beat.Gap {
			ev.Shift += p.Shift
			return true
		}
	}
	return false
}

// zerosProblem says where the recorder wrote zeros, one sentence.
func zerosProblem(zeros []beat.Stretch, duration float64) string {
	total := 0.0
	for _, z := range zeros {
		total += z.End - z.Start
	}
	first := zeros[0]
	if len(zeros) > 1 {
		return fmt.Sprintf("The recorder wrote zeros %d times, %.3f s in all, first at %.3f s: what the movement did there is not known.", len(zeros), total, first.Start)
	}
	switch {
	case first.End >= duration:
		return fmt.Sprintf("The recorder wrote nothing but zeros from %.3f s to the end: what the movement did there is not known.", first.Start)
	case first.Start == 0:
		return fmt.Sprintf("The recorder wrote nothing but zeros for the first %.3f s: what the movement did there is not known.", first.End)
	}
	return fmt.Sprintf("The recorder wrote zeros from %.3f s to %.3f s: what the movement did there is not known.", first.Start, first.End)
}
