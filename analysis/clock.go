package analysis

import (
	"math"

	"rundown/analysis/calibrate"
	"rundown/analysis/rate"
)

// ClockSource says where the correction of the recorder's clock comes from.
type ClockSource string

// The sources of a correction.
const (
	ClockUnknown   ClockSource = "none"      // there is none
	ClockGiven     ClockSource = "flag"      // given as a number
	ClockReference ClockSource = "reference" // followed beat by beat on a channel of its own
	ClockReadings  ClockSource = "readings"  // from times noted by hand
)

// perPPM is what one part per million is in seconds a day.
const perPPM = 0.0864

// source is where the correction comes from.
func (o *Options) source() ClockSource {
	switch {
	case o.Reference != nil:
		return ClockReference
	case o.ClockSource != "":
		return o.ClockSource
	case o.ClockVerified || o.ClockPPM != 0:
		return ClockGiven
	}
	return ClockUnknown
}

// clock returns the function from frames to true seconds: a clock that runs
// fast by ppm millionths takes so many more frames in a true second. A
// reference follows a clock whose error changes.
func (o *Options) clock(sampleRate int) func(frame float64) float64 {
	if o.Reference != nil {
		return o.Reference.Seconds
	}
	perSecond := float64(sampleRate) * (1 + o.ClockPPM*1e-6)
	return func(frame float64) float64 { return frame / perSecond }
}

// clockOver returns the clock's mean error between two true times, ppm; its
// error is NaN where it is not known.
func (o *Options) clockOver(from, to float64) rate.Value {
	switch {
	case o.Reference != nil:
		return o.Reference.Mean(from, to)
	case o.ClockSE > 0:
		return rate.Value{X: o.ClockPPM, SE: o.ClockSE}
	}
	return rate.Value{X: o.ClockPPM, SE: math.NaN()}
}

// Reference is what was heard of a reference beside the movement.
type Reference struct {
	Channel  int      `json:"channel"`  // from 1
	Hz       Number   `json:"hz"`       // its frequency
	Heard    int64    `json:"heard"`    // ticks, or seconds of tone
	Expected int64    `json:"expected"` // in the whole recording
	Scatter  Number   `json:"scatter_s"`
	First    Number   `json:"first_ppm"` // the clock's error at the start of the recording, and at its end
	Last     Number   `json:"last_ppm"`
	Lost     []Period `json:"lost"` // where it was not heard, and the clock bridged
}

// Period is a stretch of the recording.
type Period struct {
	Start Number `json:"start_s"`
	End   Number `json:"end_s"`
}

// NewReference describes a reference and the clock's course by it.
func NewReference(channel int, s *calibrate.Series, c *calibrate.Curve) *Reference {
	end := c.Seconds(float64(s.Frames))
	r := &Reference{
		Channel: channel, Hz: Number(s.Hz), Heard: s.Heard, Expected: s.Expected, Scatter: Number(s.Scatter()),
		First: Number(c.At(0)), Last: Number(c.At(end)), Lost: []Period{},
	}
	for _, l := range s.Lost() {
		r.Lost = append(r.Lost, Period{Number(c.Seconds(l.Start * s.SampleRate)), Number(c.Seconds(l.End * s.SampleRate))})
	}
	return r
}

// clock fills in by how much the clock was corrected, and what its error does
// to every rate.
func (r *Result) clock(opt Options) {
	whole := opt.clockOver(0, float64(r.Recording.Duration))
	rec := &r.Recording
	rec.ClockPPM, rec.ClockSE = Number(whole.X), Number(whole.SE)
	rec.ClockSource, rec.Reference = opt.source(), opt.Heard
	rec.ClockVerified = opt.ClockVerified || opt.Reference != nil
	if r.Status == OK {
		r.Rate.ClockSE = Number(perPPM * opt.clockOver(float64(r.Beat.First), float64(r.Beat.Last)).SE)
	}
	if b := r.Band; b != nil {
		r.StableBand.ClockSE = Number(perPPM * opt.clockOver(b.Start, b.End).SE)
	}
	for _, w := range r.Windows {
		r.ClockErrors = append(r.ClockErrors, perPPM*opt.clockOver(w.Start, w.End).SE)
	}
}
