// Package fitness tells from half a minute of sound whether a set-up is fit for a
// night: whether there is a beat and how plainly, what the recorder did to the
// sound, and what a night of it would give.
package fitness

import (
	"rundown/analysis"
	"rundown/analysis/contacts"
)

// Reason is why a set-up is not fit.
type Reason string

// The reasons, in the order in which they are best seen to.
const (
	NoBeat      Reason = "no-beat"      // no steady beat is heard
	Clipped     Reason = "clipped"      // beats go past what the recorder can hold
	TooLoud     Reason = "too-loud"     // beats peak above LoudestPeak
	TooQuiet    Reason = "too-quiet"    // beats peak below QuietestPeak
	Gated       Reason = "gated"        // the room is silenced between beats
	MovingGain  Reason = "moving-gain"  // the recorder's gain changes by itself
	Hum         Reason = "hum"          // hum or a fan is louder than the beat; a reason where beats are lost by it, or nearly clipped
	SecondBeat  Reason = "second-beat"  // another clock is heard
	Lossy       Reason = "lossy"        // the sound went through a lossy compression
	NarrowBand  Reason = "narrow-band"  // the high frequencies of the beat are missing
	Noisy       Reason = "noisy"        // many beats are lost in the noise of the room
	LostSamples Reason = "lost-samples" // the recorder lost samples, or wrote zeros
)

// Peaks of the beats between which a recording is well, dBFS.
const (
	LoudestPeak  = -3.0
	QuietestPeak = -50.0
)

// Report is what half a minute of sound tells. Figures that could not be had are
// NaN.
type Report struct {
	Reasons []Reason // why the set-up is unfit, in their order; none where it is fit
	Advice  []Reason // what would be better changed, though nothing of the forecast is lost by it

	Channel   int             // that carries the movement, from 1; where no beat was heard, the loudest
	Duration  analysis.Number // of what was heard, s
	PerHour   analysis.Number // beats an hour
	CountOdds analysis.Number // log10 of the odds against the next best count
	Heard     analysis.Number // share of the beats counted, 0 to 1
	SNR       [2]analysis.Number
	Peak      analysis.Number // of the beats, the median of the louder side, dBFS; of the sound where there is no beat
	Noise     analysis.Number // RMS of the room between the beats, from 1.5 to 16 kHz, dBFS
	LowNoise  analysis.Number // RMS below 400 Hz, dBFS
	Bandwidth analysis.Number // up to which there is sound, Hz
	Silent    []int           // channels that carry nothing, from 1

	LiftTold bool
	Lift     analysis.Number // lift time, ms
	Doubt    string          // why it was not told; goes on "the lift could not be told: "
	Forecast Forecast
	Sounds   []contacts.Portrait // of a beat
	Heading  string              // what was heard where there was no beat, one sentence
}

// Fit reports whether nothing speaks against the set-up.
func (r *Report) Fit() bool { return len(r.Reasons) == 0 }
