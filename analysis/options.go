package analysis

import (
	"rundown/analysis/calibrate"
	"rundown/analysis/notes"
	"rundown/analysis/train"
)

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
