package main

import (
	"context"
	"errors"
	"fmt"
	"io"
	"path/filepath"

	"rundown/analysis"
	"rundown/analysis/environment"
	"rundown/analysis/export"
	"rundown/analysis/notes"
	"rundown/analysis/prose"
	"rundown/analysis/train"
	"rundown/dsp/wavio"
)

const analyseUsage = `Usage: rundown analyse [flags] RECORDING [RECORDING ...]

Several recordings are consecutive parts of one run. - reads standard input.

`

func (a *analyseFlags) run(ctx context.Context, s streams) (int, error) {
	found, err := a.analyse(ctx, s)
	if err != nil {
		return exitFailure, err
	}
	return a.report(found, s)
}

// report prints the summary of results that are in place.
func (a *analyseFlags) report(found *analysis.Summary, s streams) (int, error) {
	err := s.print(func(w io.Writer) error {
		if a.json {
			return analysis.WriteJSON(w, found)
		}
		return export.Text(w, found, a.results())
	}, "; the results are in "+a.results())
	if found.Status == analysis.NoBeat {
		return exitNoBeat, err
	}
	return exitOK, err
}

// analyse reads the recordings and leaves complete results, or nothing.
func (a *analyseFlags) analyse(ctx context.Context, s streams) (*analysis.Summary, error) {
	opt, err := a.options()
	if err != nil {
		return nil, err
	}
	log, err := a.log(opt.Notes)
	if err != nil {
		return nil, err
	}
	src, ctx, done, err := open(ctx, a.recordings, s.in)
	if err != nil {
		return nil, err
	}
	defer done()
	if n := src.Format().Channels; a.channel > n {
		return nil, usageError{fmt.Errorf("--channel %d: %s has %d", a.channel, a.recordings[0], n)}
	}
	found, err := a.listen(ctx, src, opt, log, func(f wavio.Format) progress { return a.bar(s, f) })
	if errors.As(err, new(analysis.WindowError)) {
		return nil, usageError{err}
	}
	if errors.Is(err, context.Canceled) {
		return nil, fmt.Errorf("interrupted: nothing was written, and %s is as it was", a.results())
	}
	return found, err
}

// listen settles the clock, then analyses src. bar makes what shows progress.
func (a *analyseFlags) listen(ctx context.Context, src wavio.Source, opt analysis.Options, log *environment.Log, bar func(wavio.Format) progress) (*analysis.Summary, error) {
	opt, err := analysis.Promptly(ctx, func() (analysis.Options, error) {
		err := a.clock.clock(ctx, a.recordings, &opt, bar)
		return opt, err
	})
	if err != nil {
		return nil, err
	}
	shown := bar(src.Format())
	defer shown.done()
	opt.Progress = shown.update
	return writeResults(ctx, src, opt, surroundings{log, filepath.Base(a.environment.file)}, a.results())
}

// log reads what a logger wrote. It must be possible to bring it to the run.
func (a *analyseFlags) log(of notes.Notes) (*environment.Log, error) {
	log, err := a.environment.load()
	if log != nil && !log.Elapsed && startOf(of) == nil {
		return nil, usageError{fmt.Errorf("--environment %s: %w", a.environment.file, environment.ErrNoStart)}
	}
	return log, err
}

// options turns the flags into the settings of an analysis.
func (a *analyseFlags) options() (opt analysis.Options, err error) {
	opt = analysis.Options{
		Paths:     a.recordings,
		Nominal:   a.bph,
		LiftAngle: a.liftAngle, LiftTime: a.liftTime / 1e3,
		Window:    a.window.Seconds(),
		Tolerance: a.tolerance,
		Channel:   a.channel,
		Clips:     a.clips,
		Problems:  append(prose.PartNumbers(a.recordings), a.noted...),
	}
	if opt.Notes, err = a.notes.of(a.recordings[0]); err != nil {
		return opt, err
	}
	switch {
	case a.train != "":
		opt.Train, err = train.Load(a.train)
	case a.escapeTeeth > 0:
		opt.Train, err = train.EscapeWheel(a.escapeTeeth)
	}
	return opt, err
}
