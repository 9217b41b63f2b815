package analysis

import "rundown/analysis/train"

// Options are the settings of an analysis.
type Options struct {
	Paths     []string     // names of the recordings, for the summary alone
	Nominal   float64      // beats per hour; 0 takes the train's, or a customary count, or the measured one
	Train     *train.Train // nil where it is not known
	LiftAngle float64      // degrees; 0 where it is not known, and amplitude then a proxy
	Window    float64      // width of one averaging window, seconds; above 0
	Tolerance float64      // total width of the stable band, seconds per day; not negative

	ClockPPM      float64 // error of the recorder's clock, positive when it runs fast
	ClockVerified bool    // ClockPPM is known, not assumed

	Channel  int                // that carries the movement, from 1; 0 takes the one in which the beat is clearest
	Clips    int                // of how many events to keep the sound; it is held in memory, about 0.3 MB each
	Progress func(frames int64) // if not nil, told now and then how many frames were read
}

// clock returns the function from frames to true seconds: a clock that runs
// fast by ppm millionths takes so many more frames in a true second.
func (o *Options) clock(sampleRate int) func(frame float64) float64 {
	perSecond := float64(sampleRate) * (1 + o.ClockPPM*1e-6)
	return func(frame float64) float64 { return frame / perSecond }
}
