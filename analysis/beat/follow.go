package beat

import (
	"context"
	"errors"

	"rundown/dsp/wavio"
)

// Options are the settings of Follow. The zero value serves.
type Options struct {
	Channel int // channel that carries the movement, from 1; 0 takes the one in which the beat is clearest
	// Clock turns a frame number, which may be fractional, into true seconds
	// since frame 0; nil divides by the nominal sample rate.
	Clock func(frame float64) float64
	// Progress, if not nil, is told now and then how many frames were read.
	Progress func(frames int64)
	// Clip, if not nil, is given the sound around an event, a few seconds at
	// the recording's sample rate, as soon as the event is known. The samples
	// are the callee's only until it returns. start is the true time of the
	// first of them in seconds.
	Clip func(ev Event, samples []float32, start float64)
}

// Report is what Follow knows at the end of a run.
type Report struct {
	Found    bool     // a beat was found; no batch is emitted where not
	Heard    string   // where none was found, what was heard instead, as one sentence
	Channel  int      // the channel analysed, from 1; 0 where none was chosen
	Frames   int64    // frames read
	Problems []string // what was wrong with the sound (clipping, lost samples, …), whole sentences
	// Period is the period of the oscillator, two beats, in true seconds, as
	// the tracker saw it last; 0 where no beat was found.
	Period float64
	// Mark names the sound of the beat that marks its instant: "first", "last",
	// "loudest".
	Mark string
}

// Follow reads src to its end, finds every beat in it and calls emit with each
// finished stretch of results, in order; the batch is emit's only until it
// returns. Memory does not grow with the recording. An error is one of src's,
// of emit's, or that of the context; whatever was heard before it has been
// emitted, and the report is valid.
func Follow(ctx context.Context, src wavio.Source, opt Options, emit func(*Batch) error) (Report, error) {
	return Report{}, errors.New("beat: not there yet")
}
