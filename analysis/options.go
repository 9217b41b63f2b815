package analysis

import (
	"fmt"
	"math"

	"rundown/analysis/calibrate"
	"rundown/analysis/notes"
	"rundown/analysis/train"
)

// leastBeats is how many beats a window holds at least: of some fewer, no rate with
// an error can be had.
const leastBeats = 10

// WindowError says that the windows are too narrow for the movement.
type WindowError struct {
	Window float64 // s, as it was given
	Least  float64 // s
}

// Error implements error.
func (e WindowError) Error() string {
	return fmt.Sprintf("--window %gs: %d beats of this movement take longer; give at least %gs", e.Window, leastBeats, e.Least)
}

// checkWindow returns a WindowError where the windows are too narrow for an
// oscillator of a period in seconds, which may be infinite where it is not known.
func (o *Options) checkWindow(period float64) error {
	least := leastBeats * period / 2
	if math.IsInf(period, 1) || o.Window >= least*(1-nearly) {
		return nil
	}
	return WindowError{o.Window, math.Ceil(least*10*(1-nearly)) / 10}
}

// nearly is how far a count may be off the nominal one whose windows are exactly
// as narrow as can be.
const nearly = 0.005

// Options are the settings of an analysis.
type Options struct {
	Paths     []string     // names of the recordings, for the summary alone
	Nominal   float64      // beats per hour; 0 takes the train's, or a customary count, or the measured one
	Train     *train.Train // nil where it is not known
	LiftAngle float64      // degrees; 0 where it is not known, and amplitude then a proxy
	LiftTime  float64      // about the lift time at the start of the run, s; 0 where it is not known
	Window    float64      // width of one averaging window, seconds; above 0
	Tolerance float64      // total width of the stable band, seconds per day; not negative

	ClockPPM      float64          // error of the recorder's clock, positive when it runs fast
	ClockSE       float64          // standard error of ClockPPM, ppm; 0 where it is not known
	ClockVerified bool             // ClockPPM is known, not assumed
	ClockSource   ClockSource      // where it comes from; empty for a number given
	Reference     *calibrate.Curve // if not nil, the course of the clock, in the place of ClockPPM
	Heard         *Reference       // what was heard of the reference, for the summary alone
	Notes         notes.Notes      // what the maker noted of the run, for the summary alone
	Problems      []string         // found before the analysis, for the summary, whole sentences

	Channel  int                // that carries the movement, from 1; 0 takes the one in which the beat is clearest
	Clips    int                // of how many events to keep the sound; it is held in memory, about 0.3 MB each
	Progress func(frames int64) // if not nil, told now and then how many frames were read
}
