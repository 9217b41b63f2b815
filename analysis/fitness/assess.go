package fitness

import (
	"context"
	"io"
	"math"
	"slices"

	"rundown/analysis"
	"rundown/analysis/beat"
	"rundown/dsp/wavio"
)

// Longest is how much of a recording can be listened to, s.
const Longest = 120

// Assess listens to a recording for so many seconds, at most Longest, or to its
// end. The settings are those of an analysis.
func Assess(ctx context.Context, src wavio.Source, seconds float64, opt analysis.Options) (*Report, error) {
	channels, err := read(ctx, src, int(seconds*float64(src.Format().SampleRate)))
	if err != nil {
		return nil, err
	}
	rate := src.Format().SampleRate
	opt.Window, opt.Tolerance, opt.Clips = Longest, 10, 0
	var h heard
	r, err := analysis.Run(ctx, wavio.FromSamples(rate, channels...), opt, &h)
	if err != nil {
		return nil, err
	}
	channel := r.Recording.Channel - 1
	if channel < 0 {
		channel = loudest(channels)
	}
	s := newSound(channels[channel], float64(rate), &h, r)
	return s.report(channels, channel), nil
}

// read takes the first frames of a recording.
func read(ctx context.Context, src wavio.Source, frames int) ([][]float32, error) {
	f := src.Format()
	all, block := make([][]float32, min(f.Channels, beat.MostChannels)), make([][]float32, f.Channels)
	for len(all[0]) < frames {
		for c := range all {
			block[c] = make([]float32, min(f.SampleRate/10, frames-len(all[0])))
		}
		n, err := src.Read(block)
		if err == io.EOF {
			break
		}
		if err == nil {
			err = ctx.Err()
		}
		if err != nil {
			return nil, err
		}
		for c := range all {
			all[c] = append(all[c], block[c][:n]...)
		}
	}
	return all, nil
}

// loudest returns the channel of most energy.
func loudest(channels [][]float32) int {
	best, most := 0, -1.0
	for c, x := range channels {
		if e := meanSquare(x); e > most {
			best, most = c, e
		}
	}
	return best
}

func meanSquare(x []float32) float64 {
	sum := 0.0
	for _, v := range x {
		sum += float64(v) * float64(v)
	}
	return sum / math.Max(1, float64(len(x)))
}

// heard is a Sink that keeps the beats, and where they shifted.
type heard struct {
	beats  []analysis.Row
	shifts []int64 // numbers of the first beats displaced
}

// Beats implements analysis.Sink.
func (h *heard) Beats(b []analysis.Row) error {
	h.beats = append(h.beats, b...)
	return nil
}

// Events implements analysis.Sink.
func (h *heard) Events(events []beat.Event) error {
	for _, ev := range events {
		if ev.Kind == beat.Late || ev.Kind == beat.Early {
			h.shifts = append(h.shifts, ev.Beat)
		}
	}
	return nil
}

// pieces returns how many beats were heard between one shift and the next.
func (h *heard) pieces() []int {
	pieces := []int{0}
	next := 0
	for _, b := range h.beats {
		for next < len(h.shifts) && h.shifts[next] <= b.Index {
			pieces = append(pieces, 0)
			next++
		}
		if b.Heard {
			pieces[len(pieces)-1]++
		}
	}
	return pieces
}

// report puts together what is known.
func (s *sound) report(channels [][]float32, channel int) *Report {
	b := &s.run.Beat
	r := &Report{
		Channel: channel + 1, Duration: s.run.Recording.Duration,
		PerHour: b.Measured, CountOdds: b.CountOdds, Heard: analysis.None(),
		Peak: analysis.Number(decibels(s.peak())), Noise: analysis.Number(decibels(s.noise)), LowNoise: analysis.Number(decibels(s.low)),
		Bandwidth: analysis.Number(s.bandwidth()), Lift: analysis.None(),
		Forecast: Forecast{Minute: analysis.None(), Hours: analysis.None(), Least: analysis.None()},
		Heading:  s.run.HeardInstead,
	}
	for side := range r.SNR {
		r.SNR[side] = analysis.Number(decibels(s.peaks[side] / s.noise))
	}
	for c, x := range channels {
		if len(channels) > 1 && decibels(math.Sqrt(meanSquare(x))) < dead {
			r.Silent = append(r.Silent, c+1)
		}
	}
	if s.found() {
		r.Heard = analysis.Number(float64(b.Heard) / float64(b.Counted))
		if w := longest(s.run.Windows); !math.IsNaN(w.Lift.X) {
			r.LiftTold, r.Lift = true, analysis.Number(1e3*w.Lift.X)
		}
		r.Doubt, r.Sounds = s.run.Doubt, s.run.Sounds
		r.Forecast = forecast(s.run, s.heard)
	}
	r.Reasons = s.reasons(r)
	if s.hums() && !slices.Contains(r.Reasons, Hum) {
		r.Advice = append(r.Advice, Hum)
	}
	return r
}

// dead is the level of a channel that nothing is connected to, dBFS.
const dead = -85

// decibels turns an amplitude into dBFS.
func decibels(amplitude float64) float64 { return 20 * math.Log10(amplitude) }

// enoughHeard is which share of the beats has to be heard, at the least.
const enoughHeard = 0.8

// reasons says what speaks against the set-up.
func (s *sound) reasons(r *Report) (out []Reason) {
	gated, second := s.gated(), s.found() && s.second()
	for _, c := range []struct {
		reason Reason
		holds  bool
	}{
		{NoBeat, !s.found()},
		{Clipped, s.clipped()},
		{TooLoud, r.Peak > LoudestPeak},
		{TooQuiet, !(r.Peak >= QuietestPeak)},
		{Gated, gated},
		{MovingGain, !gated && !second && s.gainMoves()},
		{Hum, s.hums() && s.humSpoils(r)},
		{SecondBeat, second},
		{Lossy, !gated && s.lossy()},
		{NarrowBand, r.Bandwidth < narrowest},
		{Noisy, r.Heard < enoughHeard},
		{LostSamples, s.run.Events[beat.Gap] > 0},
	} {
		if c.holds {
			out = append(out, c.reason)
		}
	}
	return out
}
