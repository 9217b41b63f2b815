package main

import (
	"context"
	"errors"
	"fmt"
	"io"
	"math"

	"rundown/analysis"
	"rundown/analysis/calibrate"
	"rundown/analysis/export"
	"rundown/dsp/wavio"
)

const calibrateUsage = `Usage: rundown calibrate [flags] --hz F REFERENCE.wav [PART ...]

Measures the error of a recorder's clock from a recording, by that recorder, of
something of known rate: the tick of a quartz clock, a pulse per second, a tone.

`

// calibrateFlags are the settings of the calibrate command as they were given.
type calibrateFlags struct {
	recordings []string
	hz         float64
	channel    int
	common
}

// parseCalibrate reads the command line.
func parseCalibrate(args []string) (command, error) {
	a := &calibrateFlags{common: newCommon("calibrate")}
	f := a.set
	f.Float64Var(&a.hz, "hz", 0, "true frequency `F` of the reference: ticks or pulses a second below 20 Hz, a tone from there on")
	f.IntVar(&a.channel, "channel", 1, "channel `N` that carries it, from 1")
	a.bindOutput("figures")
	a.bindQuiet()
	if err := f.Parse(args); err != nil {
		return a, err
	}
	a.recordings = f.Args()
	switch {
	case len(a.recordings) == 0:
		return a, errors.New("calibrate needs a recording of a reference; see: rundown calibrate --help")
	case !f.Changed("hz"):
		return a, errors.New("calibrate needs --hz, the true frequency of the reference: 1 for a clock that ticks every second")
	case !(a.hz >= calibrate.LowestTick && a.hz < 1e5):
		return a, fmt.Errorf("--hz %g: must be at least %g and below 0.45 of the sample rate", a.hz, float64(calibrate.LowestTick))
	case a.channel < 1 || a.channel > math.MaxUint16:
		return a, fmt.Errorf("--channel %d: must be from 1 to %d", a.channel, math.MaxUint16)
	}
	return a, checkRecordings(a.recordings)
}

func (a *calibrateFlags) run(ctx context.Context, s streams) (int, error) {
	c, found, err := a.calibrate(ctx, s)
	if err != nil {
		return exitFailure, err
	}
	if !found {
		advice := "listen to it, and check --hz and --channel"
		if c.Series.Expected <= calibrate.FewestMarks {
			advice = "it is too short, record some minutes"
		}
		fmt.Fprintf(s.err, "rundown: %s: no reference of %g Hz was found on channel %d; %s\n", wavio.OneLine(a.recordings[0]), a.hz, a.channel, advice)
		return exitNoBeat, nil
	}
	write := export.CalibrationText
	if a.json {
		write = export.CalibrationJSON
	}
	return exitOK, s.print(func(w io.Writer) error { return write(w, c) }, "")
}

// calibrate listens to the reference, and tells whether there was one.
func (a *calibrateFlags) calibrate(ctx context.Context, s streams) (c *export.Calibration, found bool, err error) {
	src, ctx, done, err := open(ctx, a.recordings, s.in)
	if err != nil {
		return nil, false, err
	}
	defer done()
	opt := calibrate.Options{Hz: a.hz, Channel: a.channel}
	if err := opt.Check(src.Format()); err != nil {
		return nil, false, usageError{fmt.Errorf("%s: %w", a.recordings[0], err)}
	}
	bar := a.bar(s, src.Format())
	defer bar.done()
	opt.Progress = bar.update
	series, err := analysis.Promptly(ctx, func() (series *calibrate.Series, err error) {
		series, found, err = calibrate.Listen(ctx, src, opt)
		return series, err
	})
	if errors.Is(err, context.Canceled) {
		return nil, false, errors.New("interrupted: the reference was not read to its end")
	}
	if err != nil {
		return nil, false, err
	}
	e, ok := calibrate.Measure(series)
	return &export.Calibration{
		Path: a.recordings[0], Channel: a.channel, Channels: src.Format().Channels,
		Series: series, Error: e, Problems: src.Problems(),
	}, found && ok, nil
}
