package analysis

import (
	"rundown/analysis/beat"
)

// Ending says how a run came to its end. A movement at the end of its power
// stands still, and now and then goes on for some beats: those are restarts, not
// part of the run proper.
type Ending struct {
	Last     Number `json:"last_s"`          // instant of the last beat of the run proper
	Stops    int    `json:"stops"`           // before that, after each of which it went on
	Restarts int    `json:"restarts"`        // after it
	Beats    int64  `json:"restarted_beats"` // of all restarts together
	Stopped  bool   `json:"stopped"`         // it stood still as the recording ended
	// Hidden is why it was not heard up to the end of the recording, beat.Gap or
	// beat.Masked, where that is not known; empty where it was heard or stopped.
	Hidden beat.Kind `json:"hidden,omitempty"`
}

// leastHidden is for how long, in seconds, nothing was heard at the end of a
// recording for that to be worth telling.
const leastHidden = 2

// fewBeats is how many a stretch between two stops has at least that belongs to
// the run proper; the first one always does.
const fewBeats = 100

// endingFinder finds the ending of a run whose beats count from 0. The zero
// value is ready for use.
type endingFinder struct {
	ending Ending
	hidden beat.Event // the gap, or what masked beats, that ended last
	next   int64      // first beat of the stretch that is going on
	stops  int        // so far
}

// stop takes the next stop, which is after its beat.
func (f *endingFinder) stop(ev beat.Event) {
	f.stretch(ev.Beat, ev.Start)
	f.stops++
}

// hide takes a gap, or what masked beats.
func (f *endingFinder) hide(ev beat.Event) {
	if ev.End > f.hidden.End {
		f.hidden = ev
	}
}

// hiddenFrom reports whether what hid beats last did so from the last beat heard on,
// which was at a time in seconds.
func (f *endingFinder) hiddenFrom(heard float64) bool {
	const rounding = 0.1 // s: beats are referred to mid-lift, events to the mark
	return f.hidden.Start > heard-rounding && f.hidden.End-heard > leastHidden
}

// finish takes the last beat of the run and its instant in seconds, and that of the
// last one heard.
func (f *endingFinder) finish(last int64, at, heard float64) Ending {
	if last < f.next {
		f.ending.Stopped = true
	} else {
		f.stretch(last, at)
		if f.hiddenFrom(heard) {
			f.ending.Hidden, f.ending.Last = f.hidden.Kind, Number(heard)
		}
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
