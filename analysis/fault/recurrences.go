package fault

import (
	"cmp"
	"math"
	"slices"

	"rundown/analysis/train"
)

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
// is drift, not a recurrence. Of every kind only what has a p-value below 0.001
// is listed.
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
		if !slices.ContainsFunc(waves, func(m modulation) bool { return n.contains(m.period, f.period) }) {
			list = append(list, n.spikes(f, r.spikeSize(f)))
		}
	}
	for i, m := range waves {
		again := func(o modulation) bool { return n.contains(o.period, m.period) && n.contains(m.period, o.period) }
		if !slices.ContainsFunc(waves[:i], again) && !n.remnant(m, list) {
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
