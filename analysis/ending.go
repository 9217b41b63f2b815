package analysis

import "rundown/analysis/beat"

// Ending says how a run came to its end. A movement at the end of its power
// stands still, and now and then goes on for some beats: those are restarts, not
// part of the run proper.
type Ending struct {
	Last     Number `json:"last_s"`          // instant of the last beat of the run proper
	Stops    int    `json:"stops"`           // before that, after each of which it went on
	Restarts int    `json:"restarts"`        // after it
	Beats    int64  `json:"restarted_beats"` // of all restarts together
	Stopped  bool   `json:"stopped"`         // it stood still as the recording ended
}

// fewBeats is how many a stretch between two stops has at least that belongs to
// the run proper; the first one always does.
const fewBeats = 100

// endingFinder finds the ending of a run whose beats count from 0. The zero
// value is ready for use.
type endingFinder struct {
	ending Ending
	next   int64 // first beat of the stretch that is going on
	stops  int   // so far
}

// stop takes the next stop, which is after its beat.
func (f *endingFinder) stop(ev beat.Event) {
	f.stretch(ev.Beat, ev.Start)
	f.stops++
}

// finish takes the last beat of the run and its instant in seconds.
func (f *endingFinder) finish(last int64, at float64) Ending {
	if last < f.next {
		f.ending.Stopped = true
	} else {
		f.stretch(last, at)
	}
	return f.ending
}

// stretch takes the beats from next to last, which is at a time in seconds.
func (f *endingFinder) stretch(last int64, at float64) {
	beats := last + 1 - f.next
	f.next = last + 1
	if f.stops == 0 || beats >= fewBeats {
		f.ending = Ending{Last: Number(at), Stops: f.stops}
		return
	}
	f.ending.Restarts++
	f.ending.Beats += beats
}
