package main

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"io"
	"math"
	"os"
	"path/filepath"
	"strings"
	"time"

	"github.com/spf13/pflag"

	"rundown/analysis"
	"rundown/analysis/compare"
	"rundown/analysis/export"
	"rundown/analysis/rate"
	"rundown/analysis/runs"
	"rundown/dsp/wavio"
	"rundown/plotting/chart"
	"rundown/plotting/page"
)

// errNoBeat ends a command where a run that it needs has no beat.
var errNoBeat = errors.New("no beat was found in it")

// compareFlags are the settings of the compare command as they were given.
type compareFlags struct {
	before, after string
	align         string
	out           string
	bph           float64
	window        time.Duration
	tolerance     float64
	liftAngle     float64
	clockPPM      float64
	json, quiet   bool
	set           *pflag.FlagSet
}

func runCompare(ctx context.Context, args []string, stdout, stderr io.Writer) int {
	a, err := parseCompare(args)
	if errors.Is(err, pflag.ErrHelp) {
		fmt.Fprintf(stdout, "Usage: rundown compare [flags] BEFORE AFTER\n\n"+
			"Either is a recording, or the results folder of one. A recording is analysed\n"+
			"as the other run was, where that is known, and nothing of it is kept.\n\n%s", a.set.FlagUsages())
		return exitOK
	}
	if err != nil {
		return fail(stderr, usageError{err})
	}
	c, err := a.compare(ctx, stderr)
	if err != nil {
		code := fail(stderr, err)
		if errors.Is(err, errNoBeat) {
			return exitNoBeat
		}
		return code
	}
	if a.json {
		err = c.WriteJSON(stdout)
	} else {
		err = c.WriteText(stdout, a.out)
	}
	if err != nil {
		return fail(stderr, fmt.Errorf("standard output: %w; the comparison is in %s", err, a.out))
	}
	return exitOK
}

// parseCompare reads the command line. The error is pflag.ErrHelp if help was
// asked for.
func parseCompare(args []string) (*compareFlags, error) {
	a := &compareFlags{set: pflag.NewFlagSet("compare", pflag.ContinueOnError)}
	f := a.set
	f.SetOutput(io.Discard)
	f.Usage = func() {}
	f.SortFlags = false
	f.StringVar(&a.align, "align", string(compare.Elapsed), "compare windows of equal `WHAT`: elapsed (time since the start) or amplitude")
	f.StringVar(&a.out, "out", "", "folder `DIR` for the comparison (default: beside AFTER, named after it)")
	f.Float64Var(&a.bph, "bph", 0, "nominal beats per hour `N` of both runs (default: as they were analysed)")
	f.DurationVar(&a.window, "window", time.Minute, "width `DUR` of one averaging window, for recordings (default: as the other run's, or 1m)")
	f.Float64Var(&a.tolerance, "tolerance", 0, "total width `S` of both stable bands, seconds per day (default: that of BEFORE, or 10)")
	f.Float64Var(&a.liftAngle, "lift-angle", 0, "lift angle `DEG` of the escapement, for recordings")
	f.Float64Var(&a.clockPPM, "clock-ppm", 0, "error `X` of the recorder's clock, parts per million, positive when it runs fast, for recordings")
	f.BoolVar(&a.json, "json", false, "print the comparison as JSON, and nothing else")
	f.BoolVar(&a.quiet, "quiet", false, "show no progress")
	f.Lookup("window").DefValue, f.Lookup("tolerance").DefValue = "0s", "0" // told in words
	if err := f.Parse(args); err != nil {
		return a, err
	}
	if f.NArg() != 2 {
		return a, errors.New("compare needs two runs, BEFORE and AFTER; see: rundown compare --help")
	}
	a.before, a.after = f.Arg(0), f.Arg(1)
	if err := a.check(); err != nil {
		return a, err
	}
	if a.out == "" {
		after := filepath.Clean(a.after)
		a.out = strings.TrimSuffix(after, filepath.Ext(after)) + ".comparison"
	}
	return a, nil
}

// check finds what is wrong with the values given.
func (a *compareFlags) check() error {
	positive := func(flag string, x, limit float64) error {
		if f := a.set.Lookup(flag); f.Changed && !(x > 0 && x <= limit) {
			return fmt.Errorf("--%s %s: must be above 0 and at most %g", flag, f.Value, limit)
		}
		return nil
	}
	for _, err := range []error{
		positive("bph", a.bph, 1e6),
		positive("lift-angle", a.liftAngle, 180),
		positive("tolerance", a.tolerance, 86400),
	} {
		if err != nil {
			return err
		}
	}
	switch {
	case a.align != string(compare.Elapsed) && a.align != string(compare.Amplitude):
		return fmt.Errorf("--align %s: must be %s or %s", a.align, compare.Elapsed, compare.Amplitude)
	case a.window < time.Second:
		return fmt.Errorf("--window %v: must be at least 1s", a.window)
	case !(math.Abs(a.clockPPM) <= 10000):
		return fmt.Errorf("--clock-ppm %g: must be from -10000 to 10000", a.clockPPM)
	case a.set.Changed("out") && a.out == "":
		return errors.New("--out: the folder has no name")
	case a.before == "" || a.after == "":
		return errors.New("a run has an empty name")
	case a.before == stdinName || a.after == stdinName:
		return errors.New("compare does not read standard input: save the recording, or analyse it first")
	}
	return nil
}

// compare reads both runs and leaves a complete comparison, or nothing.
func (a *compareFlags) compare(ctx context.Context, stderr io.Writer) (*compare.Comparison, error) {
	if _, err := os.Lstat(filepath.Join(a.out, export.SummaryName)); err == nil {
		return nil, usageError{fmt.Errorf("%s holds the results of an analysis; choose another folder with --out", a.out)}
	}
	var before, after *runs.Run
	c, err := analysis.Promptly(ctx, func() (c *compare.Comparison, err error) {
		if before, after, err = a.runs(ctx, stderr); err != nil {
			return nil, err
		}
		return compare.Runs(before, after, compare.Alignment(a.align), a.tolerance)
	})
	if err == nil {
		err = writeComparison(ctx, a.out, c, before, after)
	}
	if errors.Is(err, context.Canceled) {
		err = errors.New("interrupted: nothing was written")
	}
	return c, err
}

// runs gets both runs, results folders first: they say how a recording is to be
// analysed.
func (a *compareFlags) runs(ctx context.Context, stderr io.Writer) (before, after *runs.Run, err error) {
	names := []string{a.before, a.after}
	got := make([]*runs.Run, 2)
	for i, name := range names {
		if info, err := os.Stat(name); err == nil && info.IsDir() {
			if got[i], err = runs.Read(name); err != nil {
				return nil, nil, err
			}
		}
	}
	for i, name := range names {
		if got[i] == nil {
			if got[i], err = a.analyse(ctx, name, got[1-i], stderr); err != nil {
				return nil, nil, err
			}
		}
		if got[i].Summary.Status != analysis.OK {
			return nil, nil, fmt.Errorf("%s: %w; compare needs two runs with a beat", name, errNoBeat)
		}
		if a.bph > 0 {
			got[i].Nominal(a.bph)
		}
	}
	return got[0], got[1], nil
}

// analyse analyses a recording in memory, as the other run was.
func (a *compareFlags) analyse(ctx context.Context, name string, other *runs.Run, stderr io.Writer) (*runs.Run, error) {
	src, err := wavio.OpenParts([]string{name}, nil)
	if err != nil {
		return nil, err
	}
	defer src.Close()
	opt := analysis.Options{
		Paths: []string{name}, Nominal: a.bph, LiftAngle: a.liftAngle, Window: a.window.Seconds(), Tolerance: a.tolerance,
		ClockPPM: a.clockPPM, ClockVerified: a.set.Changed("clock-ppm"),
	}
	if other != nil && other.Summary.Status == analysis.OK {
		if opt.Nominal == 0 && other.Summary.Beat.Source != rate.FromMeasured {
			opt.Nominal = float64(other.Summary.Beat.Nominal)
		}
		if !a.set.Changed("window") && other.Width() > 0 {
			opt.Window = other.Width()
		}
		if t := other.Summary.StableBand.Tolerance; opt.Tolerance == 0 && t.Known() {
			opt.Tolerance = float64(t)
		}
	}
	if opt.Tolerance == 0 {
		opt.Tolerance = compare.Tolerance
	}
	if !a.quiet {
		bar := newProgress(stderr, src.Format())
		defer bar.done()
		opt.Progress = bar.update
	}
	var g runs.Gatherer
	r, err := analysis.Run(ctx, src, opt, &g)
	if err != nil {
		return nil, err
	}
	return g.Run(name, r), nil
}

// writeComparison leaves the complete comparison in dir, or what was there
// before.
func writeComparison(ctx context.Context, dir string, c *compare.Comparison, before, after *runs.Run) error {
	folder, err := export.NewFolder(dir, "comparison.csv", "comparison.png", "comparison.html", "comparison.json")
	if err != nil {
		return err
	}
	defer folder.Abort()
	var differences []chart.Difference
	for _, d := range c.Differences {
		differences = append(differences, chart.Difference{Time: d.Time, Rate: rate.Value{X: d.Rate, SE: d.SE}})
	}
	tolerance := float64(c.Before.Tolerance)
	show := page.Pair{Comparison: c, BeforeRun: shown(before, tolerance), AfterRun: shown(after, tolerance)}
	var png bytes.Buffer
	show.Figure = chart.Compare(show.BeforeRun, show.AfterRun, differences)
	if err := show.Figure.WritePNG(&png); err != nil {
		return err
	}
	show.Picture = png.Bytes()
	for _, file := range []struct {
		name string
		fill func(io.Writer) error
	}{
		{"comparison.csv", c.WriteCSV},
		{"comparison.png", func(w io.Writer) error { _, err := w.Write(show.Picture); return err }},
		{"comparison.html", func(w io.Writer) error { return page.Compare(w, show) }},
		{"comparison.json", c.WriteJSON},
	} {
		if err := ctx.Err(); err != nil {
			return err
		}
		if err := folder.Write(file.name, file.fill); err != nil {
			return err
		}
	}
	return folder.Commit()
}

// shown is a run as the chart takes it.
func shown(r *runs.Run, tolerance float64) chart.Run {
	run := chart.Run{
		Heading: chart.Heading{Name: filepath.Base(r.Path), Nominal: float64(r.Summary.Beat.Nominal)},
		Windows: r.Windows, Kind: r.Kind, Events: r.Events,
	}
	if b, ok := rate.StableBand(r.Windows, tolerance); ok {
		run.Band = &b
	}
	return run
}
