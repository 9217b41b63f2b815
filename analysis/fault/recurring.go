package fault

import (
	"cmp"
	"math"
	"slices"

	"rundown/analysis/train"
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

// leastPValue stands for all p-values that are smaller.
const leastPValue = 1e-300

// ranked is a recurrence with what puts it in its place.
type ranked struct {
	Recurrence
	logp float64
}

// Recurrences returns what comes round in the run, strongest first. t may be
// nil; it gives names, and makes weaker signs of its own parts significant.
//
// Two kinds are looked for. Events (those that displace beats, missed ones, extra
// ones) recur where more of them than chance allows fall at one phase, or
// two, of some period. Modulation is a line in the spectrum of the beat times, a
// shape that repeats, or a beat that is displaced by itself at one phase of a
// period. The times are freed from displacements, from the difference between
// tick and tock, and from their trend: what has fewer than seven turns in the run
// is drift, not a recurrence. Beats that are displaced by themselves, all on the same side,
// are none either: only what both sides tell alternates. Of every kind only what has a p-value below 0.001
// is listed. Where events come round, what is uneven with the same period is said in
// their note.
func (c *Collector) Recurrences(t *train.Train) []Recurrence {
	r := c.finish()
	n := namer{partsOf(t), r.interval, c.first, c.n}
	var list []ranked
	for group, what := range [nGroups]string{displaced: "", unheard: "beats not heard", added: "extra sounds"} {
		for _, f := range findRecurring(c.counted(group), c.n, n.parts) {
			list = append(list, n.events(f, what))
		}
	}
	waves := r.modulations(n.parts)
	for _, f := range findRecurring(r.spikes, c.n, n.parts) {
		if f.period == 2 {
			continue // the fainter side is the one that noise misplaces
		}
		uneven := slices.ContainsFunc(waves, func(m modulation) bool { return n.contains(m.period, f.period) })
		if !uneven && !n.beside(list, f.period, r.spikeSize(f)) {
			list = append(list, n.spikes(f, r.spikeSize(f)))
		}
	}
	for i, m := range waves {
		again := func(o modulation) bool { return n.contains(o.period, m.period) && n.contains(m.period, o.period) }
		if !slices.ContainsFunc(waves[:i], again) && !n.remnant(m, list) && !n.beside(list, m.period, m.size) {
			list = append(list, n.wave(m))
		}
	}
	slices.SortStableFunc(list, func(a, b ranked) int { return cmp.Compare(a.logp, b.logp) })
	out := make([]Recurrence, len(list))
	for i, f := range list {
		f.PValue = max(leastPValue, math.Exp(min(0, f.logp)))
		out[i] = f.Recurrence
	}
	return out
}

// counted returns the events of a group that lie in the run, with beats counted
// from the first one.
func (c *Collector) counted(group int) []occurrence {
	var list []occurrence
	for _, e := range c.groups[group] {
		if e.beat -= c.first; e.beat >= 0 && e.beat < c.n {
			list = append(list, e)
		}
	}
	slices.SortStableFunc(list, func(a, b occurrence) int { return cmp.Compare(a.beat, b.beat) })
	return list
}

// modulations searches the spectrum of the run. A long run is looked at in
// segments, and as a whole for what is too slow for them.
func (r *run) modulations(parts []part) []modulation {
	if r.fine.segments() <= 1 {
		return newSearch(&r.fine, parts, 0, 1).modulations()
	}
	split := 8 / float64(r.fine.length()) // cycles per beat
	list := newSearch(&r.fine, parts, split, 1).modulations()
	return append(list, newSearch(&r.coarse, parts, 0, split*float64(r.coarse.step)).modulations()...)
}
