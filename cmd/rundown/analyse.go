package main

import (
	"context"
	"errors"
	"fmt"
	"io"
	"path/filepath"
	"slices"

	"github.com/spf13/pflag"

	"rundown/analysis"
	"rundown/analysis/environment"
	"rundown/analysis/export"
	"rundown/analysis/notes"
	"rundown/analysis/prose"
	"rundown/analysis/train"
	"rundown/dsp/wavio"
)

// usageError is a fault of the command line that shows only once the files are
// open.
type usageError struct{ error }

func runAnalyse(ctx context.Context, args []string, stdin io.Reader, stdout, stderr io.Writer) int {
	a, err := parseAnalyse(args)
	if errors.Is(err, pflag.ErrHelp) {
		fmt.Fprintf(stdout, "Usage: rundown analyse [flags] RECORDING [RECORDING ...]\n\n"+
			"Several recordings are consecutive parts of one run. - reads standard input.\n\n%s", a.set.FlagUsages())
		return exitOK
	}
	if err != nil {
		return fail(stderr, usageError{err})
	}
	s, err := a.analyse(ctx, stdin, stderr)
	if err != nil {
		return fail(stderr, err)
	}
	return report(s, a, stdout, stderr)
}

// fail prints an error in one line and returns the exit code that goes with
// it.
func fail(stderr io.Writer, err error) int {
	fmt.Fprintln(stderr, "rundown:", prose.Printable(err.Error()))
	if errors.As(err, new(usageError)) {
		return exitUsage
	}
	return exitFailure
}

// report prints the summary of results that are in place.
func report(s *analysis.Summary, a *analyseFlags, stdout, stderr io.Writer) int {
	var err error
	if a.json {
		err = export.JSON(stdout, s)
	} else {
		err = export.Text(stdout, s, a.results())
	}
	if err != nil {
		return fail(stderr, fmt.Errorf("standard output: %w; the results are in %s", err, a.results()))
	}
	if s.Status == analysis.NoBeat {
		return exitNoBeat
	}
	return exitOK
}

// analyse reads the recordings and leaves complete results, or nothing.
func (a *analyseFlags) analyse(ctx context.Context, stdin io.Reader, stderr io.Writer) (*analysis.Summary, error) {
	opt, err := a.options()
	if err != nil {
		return nil, err
	}
	log, err := a.log(opt.Notes)
	if err != nil {
		return nil, err
	}
	if slices.Contains(a.recordings, stdinName) {
		var stop func()
		if stdin, ctx, stop, err = untilInterrupted(ctx, stdin); err != nil {
			return nil, err
		}
		defer stop()
	}
	src, err := wavio.OpenParts(a.recordings, stdin)
	if err != nil {
		return nil, err
	}
	defer src.Close()
	if n := src.Format().Channels; a.channel > n {
		return nil, usageError{fmt.Errorf("--channel %d: %s has %d", a.channel, a.recordings[0], n)}
	}
	bar := func(f wavio.Format) progress {
		if a.quiet {
			return progress{}
		}
		return newProgress(stderr, f)
	}
	s, err := a.listen(ctx, src, opt, log, bar)
	if errors.As(err, new(analysis.WindowError)) {
		return nil, usageError{err}
	}
	if errors.Is(err, context.Canceled) {
		return nil, fmt.Errorf("interrupted: nothing was written, and %s is as it was", a.results())
	}
	return s, err
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
		Problems:  append(partProblems(a.recordings), a.noted...),
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
