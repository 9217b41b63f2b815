package main

import (
	"cmp"
	"context"
	"errors"
	"fmt"
	"io"
	"math"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"time"

	"rundown/analysis"
	"rundown/analysis/compare"
	"rundown/analysis/export"
	"rundown/analysis/notes"
	"rundown/analysis/rate"
	"rundown/analysis/runs"
	"rundown/dsp/wavio"
	"rundown/plotting/chart"
	"rundown/plotting/page"
)

const compareUsage = `Usage: rundown compare [flags] BEFORE AFTER
       rundown compare [flags] --before RUN [RUN ...] --after RUN [RUN ...]

Each is a recording, or the results folder of one. A recording is analysed as the
first results folder was, where there is one, and nothing of it is kept. With
several runs of a state, what such runs differ by is found from them.

`

// compareFlags are the settings of the compare command as they were given.
type compareFlags struct {
	before, after []string
	align         string
	purpose       string
	out           string
	bph           float64
	window        time.Duration
	tolerance     float64
	liftAngle     float64
	clockPPM      float64
	common
}

func (a *compareFlags) run(ctx context.Context, s streams) (int, error) {
	c, err := a.compare(ctx, s)
	if err != nil {
		return exitFailure, err
	}
	return exitOK, s.print(func(w io.Writer) error {
		if a.json {
			return analysis.WriteJSON(w, c)
		}
		return c.WriteText(w, a.out)
	}, "; the comparison is in "+a.out)
}

// parseCompare reads the command line.
func parseCompare(args []string) (command, error) {
	a := &compareFlags{common: newCommon("compare")}
	f := a.set
	f.StringArrayVar(&a.before, "before", nil, "runs `RUN ...` of the state before the change")
	f.StringArrayVar(&a.after, "after", nil, "runs `RUN ...` of the state after it")
	f.StringVar(&a.purpose, "for", "", "`FIGURE` for which the change was made, by its name in comparison.csv: it is judged less strictly, the others more")
	f.StringVar(&a.align, "align", string(compare.Elapsed), "compare windows of equal `WHAT`: elapsed (time since the start) or amplitude")
	f.StringVar(&a.out, "out", "", "folder `DIR` for the comparison (default: beside the first run after, named after it)")
	f.Float64Var(&a.bph, "bph", 0, "nominal beats per hour `N` of all runs (default: as they were analysed)")
	f.DurationVar(&a.window, "window", time.Minute, "width `DUR` of one averaging window, for recordings (default: as that of a results folder, or 1m)")
	f.Float64Var(&a.tolerance, "tolerance", 0, "total width `S` of all stable bands, seconds per day (default: that of the first run, or 10)")
	f.Float64Var(&a.liftAngle, "lift-angle", 0, "lift angle `DEG` of the escapement, for recordings")
	f.Float64Var(&a.clockPPM, "clock-ppm", 0, "error `X` of the recorder's clock, parts per million, positive when it runs fast, for recordings")
	a.bindOutput("comparison")
	a.bindQuiet()
	f.Lookup("window").DefValue, f.Lookup("tolerance").DefValue = "0s", "0" // told in words
	if err := f.Parse(eachWithItsFlag(args)); err != nil {
		return a, err
	}
	switch sets := len(a.before) + len(a.after); {
	case sets == 0 && f.NArg() == 2:
		a.before, a.after = []string{f.Arg(0)}, []string{f.Arg(1)}
	case sets == 0:
		return a, errors.New("compare needs two runs, BEFORE and AFTER, or several with --before and --after; see: rundown compare --help")
	case f.NArg() > 0:
		return a, fmt.Errorf("%s: whether it is of --before or --after is not said", f.Arg(0))
	case len(a.before) == 0 || len(a.after) == 0:
		return a, errors.New("compare needs runs of both states: give --before and --after")
	}
	if err := a.check(); err != nil {
		return a, err
	}
	if a.out == "" {
		a.out = beside(filepath.Clean(a.after[0]), ".comparison")
	}
	return a, nil
}

// eachWithItsFlag gives every run its own flag: --before and --after take all
// that follows them up to the next flag.
func eachWithItsFlag(args []string) []string {
	var out []string
	state := ""
	for i, arg := range args {
		switch {
		case arg == "--":
			return append(out, args[i:]...)
		case arg == "--before" || arg == "--after":
			state = arg
			continue
		case strings.HasPrefix(arg, "-") && arg != stdinName:
			state = ""
		case state != "":
			out = append(out, state)
		}
		out = append(out, arg)
	}
	return out
}

// all are all runs, those before first.
func (a *compareFlags) all() []string { return slices.Concat(a.before, a.after) }

// checkRuns finds what is wrong with the runs named.
func (a *compareFlags) checkRuns() error {
	seen := map[string]bool{}
	for _, name := range a.all() {
		switch clean := filepath.Clean(name); {
		case name == "":
			return errors.New("a run has an empty name")
		case name == stdinName:
			return errors.New("compare does not read standard input: save the recording, or analyse it first")
		case seen[clean] && len(a.all()) > 2:
			return fmt.Errorf("%s is given twice: a run is no repeat of itself", name)
		default:
			seen[clean] = true
		}
	}
	return nil
}

// check finds what is wrong with the values given.
func (a *compareFlags) check() error {
	err := cmp.Or(
		a.positive("bph", a.bph, 1e6),
		a.positive("lift-angle", a.liftAngle, 180),
		a.positive("tolerance", a.tolerance, 86400),
	)
	if err != nil {
		return err
	}
	switch {
	case a.align != string(compare.Elapsed) && a.align != string(compare.Amplitude):
		return fmt.Errorf("--align %s: must be %s or %s", a.align, compare.Elapsed, compare.Amplitude)
	case a.window < time.Second:
		return fmt.Errorf("--window %v: must be at least 1s", a.window)
	case !(math.Abs(a.clockPPM) <= 10000):
		return fmt.Errorf("--clock-ppm %g: must be from -10000 to 10000", a.clockPPM)
	}
	return cmp.Or(a.named(a.out), a.checkRuns())
}

// compare reads all runs and leaves a complete comparison, or nothing.
func (a *compareFlags) compare(ctx context.Context, s streams) (*compare.Comparison, error) {
	if err := foreign(a.out, export.SummaryName); err != nil {
		return nil, err
	}
	var all []*runs.Run
	c, err := analysis.Promptly(ctx, func() (c *compare.Comparison, err error) {
		if all, err = a.runs(ctx, s); err != nil {
			return nil, err
		}
		n := len(a.before)
		return compare.Runs(all[:n], all[n:], compare.Options{By: compare.Alignment(a.align), Tolerance: a.tolerance, For: a.purpose})
	})
	if errors.Is(err, compare.ErrFigure) {
		err = usageError{fmt.Errorf("--for: %w", err)}
	}
	if err == nil {
		err = writeComparison(ctx, a.out, c, all)
	}
	return c, err
}

// runs gets all runs, results folders first: they say how a recording is to be
// analysed.
func (a *compareFlags) runs(ctx context.Context, s streams) ([]*runs.Run, error) {
	got := make([]*runs.Run, len(a.all()))
	var like *runs.Run
	for i, name := range a.all() {
		if info, err := os.Stat(name); err == nil && info.IsDir() {
			if got[i], err = runs.Read(name); err != nil {
				return nil, err
			}
			if like == nil && got[i].Summary.Status == analysis.OK {
				like = got[i]
			}
		}
	}
	for i, name := range a.all() {
		var err error
		if got[i] == nil {
			if got[i], err = a.analyse(ctx, name, like, s); err != nil {
				return nil, err
			}
		}
		if got[i].Summary.Status != analysis.OK {
			return nil, fmt.Errorf("%s: %w; compare needs runs with a beat", name, errNoBeat)
		}
		if a.bph > 0 {
			got[i].Nominal(a.bph)
		}
	}
	return got, nil
}

// analyse analyses a recording in memory, as another run was, nil for none.
func (a *compareFlags) analyse(ctx context.Context, name string, other *runs.Run, s streams) (*runs.Run, error) {
	src, err := wavio.OpenParts([]string{name}, nil)
	if err != nil {
		return nil, err
	}
	defer src.Close()
	noted, err := notes.Load(name)
	if err != nil {
		return nil, err
	}
	opt := analysis.Options{
		Notes: noted,
		Paths: []string{name}, Nominal: a.bph, LiftAngle: a.liftAngle, Window: a.window.Seconds(), Tolerance: a.tolerance,
		ClockPPM: a.clockPPM, ClockVerified: a.set.Changed("clock-ppm"),
	}
	if other != nil {
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
	bar := a.bar(s, src.Format())
	defer bar.done()
	opt.Progress = bar.update
	var g runs.Gatherer
	r, err := analysis.Run(ctx, src, opt, &g)
	if err != nil {
		return nil, err
	}
	return g.Run(name, r), nil
}

// writeComparison leaves the complete comparison in dir, or what was there
// before.
func writeComparison(ctx context.Context, dir string, c *compare.Comparison, all []*runs.Run) error {
	show := page.Pair{Comparison: c}
	names := c.Names()
	for i, r := range all {
		run := shown(r, names[i], float64(c.Before.Tolerance))
		if i < len(c.BeforeRuns) {
			show.BeforeRuns = append(show.BeforeRuns, run)
		} else {
			show.AfterRuns = append(show.AfterRuns, run)
		}
	}
	pictures, err := drawn(ctx, []picture{{"comparison", chart.Compare(show.BeforeRuns, show.AfterRuns, c.Differences)}})
	if err != nil {
		return err
	}
	show.Picture = pictures[0]
	return writeFolder(ctx, dir, []output{
		{"comparison.csv", c.WriteCSV},
		{"comparison.png", holding(show.PNG)},
		{"comparison.html", func(w io.Writer) error { return page.Compare(w, show) }},
		{"comparison.json", func(w io.Writer) error { return analysis.WriteJSON(w, c) }},
	})
}

// shown is a run as the chart takes it.
func shown(r *runs.Run, name string, tolerance float64) chart.Run {
	run := chart.Run{
		Heading: chart.Heading{Name: name, Nominal: float64(r.Summary.Beat.Nominal)},
		Windows: r.Windows, Kind: r.Kind, Events: r.Events,
	}
	if b, ok := rate.StableBand(r.Windows, tolerance); ok {
		run.Band = &b
	}
	return run
}
