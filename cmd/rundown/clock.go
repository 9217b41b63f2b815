package main

import (
	"context"
	"errors"
	"fmt"
	"io"
	"math"
	"slices"
	"time"

	"github.com/spf13/pflag"

	"rundown/analysis"
	"rundown/analysis/calibrate"
	"rundown/analysis/notes"
	"rundown/analysis/prose"
	"rundown/dsp/wavio"
)

// clockFlags say what is known of the recorder's clock.
type clockFlags struct {
	ppm, err       float64
	reference      int
	hz             float64
	started, ended string
	set            *pflag.FlagSet
}

func (c *clockFlags) bind(f *pflag.FlagSet) {
	c.set = f
	f.Float64Var(&c.ppm, "clock-ppm", 0, "error `X` of the recorder's clock, parts per million, positive when it runs fast")
	f.Float64Var(&c.err, "clock-error", 0, "standard error `X` of --clock-ppm, parts per million")
	f.IntVar(&c.reference, "reference-channel", 0, "channel `N` with a signal of known frequency, by which the clock is followed")
	f.Float64Var(&c.hz, "reference-hz", 0, "its true frequency `F`: ticks or pulses a second below 20 Hz, a tone from there on")
	f.StringVar(&c.started, "started", "", "wall-clock time `T` at which the recording began, as 2031-05-04T21:30:05; with --ended, 21:30:05 will do")
	f.StringVar(&c.ended, "ended", "", "wall-clock time `T` at which it ended; both give the clock's error, roughly")
}

// began is when the recording began, empty where the date is not known.
func (c *clockFlags) began() string {
	if _, _, err := notes.Moment(c.started); err != nil {
		return ""
	}
	return c.started
}

// check finds what is wrong with the values given.
func (c *clockFlags) check(recordings []string) error {
	given := func(name string) bool { return c.set.Changed(name) }
	reference, hand := given("reference-channel") || given("reference-hz"), given("ended")
	ways := 0
	for _, way := range []bool{given("clock-ppm"), reference, hand} {
		if way {
			ways++
		}
	}
	switch {
	case !(math.Abs(c.ppm) <= 10000):
		return fmt.Errorf("--clock-ppm %g: must be from -10000 to 10000", c.ppm)
	case given("clock-error") && !(c.err > 0 && c.err <= 10000):
		return fmt.Errorf("--clock-error %g: must be above 0 and at most 10000", c.err)
	case given("clock-error") && !given("clock-ppm"):
		return errors.New("--clock-error: give the --clock-ppm that it is the error of")
	case ways > 1:
		return errors.New("the clock: give --clock-ppm, or a reference, or --started and --ended")
	case given("reference-channel") != given("reference-hz"):
		return errors.New("a reference needs both --reference-channel and --reference-hz")
	case given("ended") && !given("started"):
		return errors.New("--ended: give --started as well")
	case given("started") && !given("ended") && c.began() == "":
		return fmt.Errorf("--started %q: without --ended, write a date and time as 2031-05-04T21:30:05", c.started)
	case (reference || hand) && slices.Contains(recordings, stdinName):
		return errors.New("standard input can be read only once: a reference, or --started and --ended, need a file")
	case reference && (c.reference < 1 || c.reference > math.MaxUint16):
		return fmt.Errorf("--reference-channel %d: must be from 1 to %d", c.reference, math.MaxUint16)
	case reference && !(c.hz >= calibrate.LowestTick && c.hz < 1e5):
		return fmt.Errorf("--reference-hz %g: must be at least %g and below 0.45 of the sample rate", c.hz, float64(calibrate.LowestTick))
	}
	if hand {
		_, _, err := c.readings()
		return err
	}
	return nil
}

// clock settles the clock of an analysis of recordings, which takes a reading
// of them of its own where it is to be found in them.
func (c *clockFlags) clock(ctx context.Context, recordings []string, opt *analysis.Options, bar func(wavio.Format) progress) error {
	opt.ClockPPM, opt.ClockSE, opt.ClockVerified = c.ppm, c.err, c.set.Changed("clock-ppm")
	if c.reference == 0 && c.ended == "" {
		return nil
	}
	src, err := wavio.OpenParts(recordings, nil)
	if err != nil {
		return err
	}
	defer src.Close()
	shown := bar(src.Format())
	defer shown.done()
	if c.reference > 0 {
		return c.follow(ctx, src, recordings[0], opt, shown)
	}
	return c.byHand(ctx, src, recordings[0], opt)
}

// follow listens to the reference.
func (c *clockFlags) follow(ctx context.Context, src wavio.Source, name string, opt *analysis.Options, shown progress) error {
	channels := src.Format().Channels
	listen := calibrate.Options{Hz: c.hz, Channel: c.reference, Progress: shown.update}
	switch {
	case c.reference > channels:
		return usageError{fmt.Errorf("--reference-channel %d: %s has %d", c.reference, name, channels)}
	case channels == 1 || opt.Channel == c.reference:
		return usageError{fmt.Errorf("--reference-channel %d: it carries the movement", c.reference)}
	case opt.Channel == 0 && channels > 2:
		return usageError{fmt.Errorf("--reference-channel %d: say with --channel which of the other %d channels of %s carries the movement", c.reference, channels-1, name)}
	}
	if err := listen.Check(src.Format()); err != nil {
		return usageError{fmt.Errorf("--reference-hz: %w", err)}
	}
	if opt.Channel == 0 {
		opt.Channel = 3 - c.reference
	}
	series, found, err := calibrate.Listen(ctx, src, listen)
	if err != nil {
		return err
	}
	if !found {
		opt.Problems = append(opt.Problems, fmt.Sprintf("No reference of %g Hz was found on channel %d, so the clock is unverified.", c.hz, c.reference))
		return nil
	}
	opt.Reference = calibrate.NewCurve(series)
	opt.Heard = analysis.NewReference(c.reference, series, opt.Reference)
	if lost := opt.Heard.Lost; len(lost) > 0 {
		opt.Problems = append(opt.Problems, prose.LostReference(c.reference, lost))
	}
	return nil
}

const (
	// readingError is the standard error of a time noted by hand, s.
	readingError = 0.5
	// verifiedWithin is the standard error, ppm, within which times noted by
	// hand count as a check of the clock: recorders are commonly further out.
	verifiedWithin = 10
)

// byHand takes the clock from the times noted.
func (c *clockFlags) byHand(ctx context.Context, src wavio.Source, name string, opt *analysis.Options) error {
	frames, err := countFrames(ctx, src)
	if err != nil {
		return err
	}
	recorded := float64(frames) / float64(src.Format().SampleRate)
	start, end, err := c.readings()
	if err != nil {
		return err
	}
	passed := end.Sub(start).Seconds()
	if start.Year() == 0 {
		// Times of day leave open how many days have passed.
		passed += 86400 * math.Round((recorded-passed)/86400)
	}
	if !(passed > 0) || math.Abs(recorded-passed) > 5+0.01*recorded {
		return usageError{fmt.Errorf("--started and --ended: %s passed between them, but %s lasts %s: check both", between(passed), name, between(recorded))}
	}
	opt.ClockPPM = 1e6 * (recorded/passed - 1)
	opt.ClockSE = 1e6 * math.Sqrt2 * readingError / passed
	opt.ClockSource = analysis.ClockReadings
	opt.ClockVerified = opt.ClockSE <= verifiedWithin
	return nil
}

// between prints a length of time, exact to the second.
func between(seconds float64) string {
	return time.Duration(math.Round(seconds) * 1e9).String()
}

// readings reads the times noted: both of the day, whose year is 0, or both of
// a date.
func (c *clockFlags) readings() (start, end time.Time, err error) {
	for _, layout := range []string{time.TimeOnly, time.RFC3339} {
		start, err = time.Parse(layout, c.started)
		if err != nil {
			continue
		}
		if end, err = time.Parse(layout, c.ended); err != nil {
			return start, end, fmt.Errorf("--ended %q: write it as --started %q is written", c.ended, c.started)
		}
		if layout == time.RFC3339 && !end.After(start) {
			return start, end, fmt.Errorf("--ended %s: is not after --started %s", c.ended, c.started)
		}
		return start, end, nil
	}
	return start, end, fmt.Errorf("--started %q: write a time of day as 21:30:05, or a date and time as 2031-05-04T21:30:05+02:00", c.started)
}

// countFrames reads a recording to its end: headers are not to be relied on.
func countFrames(ctx context.Context, src wavio.Source) (int64, error) {
	planes := make([][]float32, src.Format().Channels)
	planes[0] = make([]float32, 1<<16)
	var frames int64
	for {
		n, err := src.Read(planes)
		frames += int64(n)
		switch {
		case err == io.EOF:
			return frames, nil
		case err != nil:
			return frames, err
		case ctx.Err() != nil:
			return frames, ctx.Err()
		}
	}
}
