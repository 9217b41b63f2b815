// Package beat turns a recording into numbered, sided beats, and into the
// events that interrupt them.
package beat

// Side tells the two beats of one period apart.
type Side uint8

// Tick is the side of the first beat heard, Tock the other one.
const (
	Tick Side = iota
	Tock
)

// String returns the name used in tables: "tick" or "tock".
func (s Side) String() string {
	if s == Tick {
		return "tick"
	}
	return "tock"
}

// Beat is one half swing of the oscillator.
type Beat struct {
	Index int64 // counts from 0, through beats that were not heard
	// Time is the instant of the beat's mark, the same point of every beat's
	// sound, in true seconds since the first sample; where Heard is false, the
	// predicted instant.
	Time float64
	// SE is what the room leaves uncertain of Time, standard error in seconds.
	SE    float64
	Level float64 // dBFS (RMS over about a millisecond, in the beat's band); of no meaning where Heard is false
	Side  Side
	Heard bool
}

// Kind is what happened in an Event.
type Kind string

// The kinds of events; the beat sequence is in order again after each.
const (
	Late   Kind = "late"   // this beat and all later ones came late
	Early  Kind = "early"  // this beat and all later ones came early
	Missed Kind = "missed" // beats not heard, though the room was quiet; the phase held
	Extra  Kind = "extra"  // a sound between two beats in place
	Stop   Kind = "stop"   // no beat until the movement started again, or to the end
	Masked Kind = "masked" // beats not heard because the room was loud
	Gap    Kind = "gap"    // the recorder lost samples or wrote zeros
)

// Kinds lists every kind, in the order of tables.
var Kinds = []Kind{Late, Early, Missed, Extra, Stop, Masked, Gap}

// Event is something other than a beat in its place.
type Event struct {
	Kind Kind
	// Beat is the first beat concerned: for Late and Early the first that is
	// displaced, for Missed and Masked the first not heard, for Extra and Stop
	// the last beat before.
	Beat  int64
	Start float64 // true seconds since the first sample
	End   float64 // likewise; not before Start
	// Shift is by how many seconds the beats from Beat on are displaced for
	// good, positive when late; 0 for kinds that displace nothing. For Stop it
	// is the standstill in excess of one beat interval.
	Shift float64
	Note  string
}

// Batch is a stretch of finished results, each in order of time. An event that
// displaces beats or ends a run of them arrives no later than the first beat
// that it concerns or follows.
type Batch struct {
	Beats  []Beat
	Events []Event
}

// Reset empties the batch, keeping its memory.
func (b *Batch) Reset() {
	b.Beats, b.Events = b.Beats[:0], b.Events[:0]
}
