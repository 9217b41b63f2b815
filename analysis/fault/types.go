// Package fault finds what comes round again in a run, and names the part of
// the train that turns at that period.
//
//  1. A Collector takes the beats and events of a run as they come and keeps the
//     beat times, less what the events displaced.
//  2. Once the run is over the times are freed from their trend, tick and tock
//     each from its own; beats that stand out alone are put aside.
//  3. Events, and the beats put aside, are searched for a period at which they
//     return (scan).
//  4. The beat times are searched for waves in their spectrum, held against the
//     noise of the clock (search).
//  5. What is found is matched with the train and named.
//
// Fold and Map give the charts of it.
package fault

import (
	"math"

	"rundown/analysis/train"
)

// Recurrence is something that returns at a fixed number of beats.
type Recurrence struct {
	Kind          string  // Events or Modulation
	PeriodBeats   float64 // may be fractional
	PhaseBeats    float64 // beat number of an occurrence modulo the period; of a modulation, of its latest point
	Occurrences   int     // events explained; of a modulation, whole turns observed
	Opportunities int     // turns that passed that phase while the movement ran; of a modulation, whole turns observed
	Size          float64 // median shift, or peak-to-peak deviation of beat times; seconds
	PValue        float64 // corrected for everything that was searched
	Match         string  // what turns at that period, or ""
	Note          string  // what else could, and what would separate them
}

// ComesRoundIn reports whether the recurrence has a period of so many beats, to half
// a percent.
func (r Recurrence) ComesRoundIn(beats float64) bool { return math.Abs(r.PeriodBeats/beats-1) < 0.005 }

// Elsewhere returns the recurrence with which events come round where that is not
// a turn of so many beats; nil where it is, or where there is none. They would
// mark places in the turn of an arbor that has nothing to do with them.
func Elsewhere(found []Recurrence, beats float64) *Recurrence {
	var other *Recurrence
	for i, r := range found {
		switch {
		case r.Kind != Events:
		case r.ComesRoundIn(beats):
			return nil
		case other == nil:
			other = &found[i]
		}
	}
	return other
}

// The kinds of recurrences.
const (
	Events     = "events"     // events that return
	Modulation = "modulation" // regular unevenness of the beat times
)

// part is a part of the train that comes round.
type part struct {
	train.Candidate
	period float64 // beats
}

// partsOf lists the parts of a train, none for nil.
func partsOf(t *train.Train) []part {
	if t == nil {
		return nil
	}
	var list []part
	for _, c := range t.Candidates() {
		beats, _ := c.Beats.Float64()
		list = append(list, part{c, beats})
	}
	return list
}
