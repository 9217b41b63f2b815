// Package fault finds what comes round again in a run, and names the part of
// the train that turns at that period.
package fault

// Recurrence is something that returns at a fixed number of beats.
type Recurrence struct {
	Kind          string  // "events" or "modulation"
	PeriodBeats   float64 // may be fractional
	PhaseBeats    float64 // beat number of an occurrence modulo the period; of a modulation, of its latest point
	Occurrences   int     // events explained; of a modulation, whole turns observed
	Opportunities int     // turns that passed that phase while the movement ran; of a modulation, whole turns observed
	Size          float64 // median shift, or peak-to-peak deviation of beat times; seconds
	PValue        float64 // corrected for everything that was searched
	Match         string  // what turns at that period, or ""
	Note          string  // what else could, and what would separate them
}
