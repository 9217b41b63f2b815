package main

import (
	"context"
	"errors"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"slices"
	"strings"

	"rundown/analysis"
	"rundown/analysis/export"
	"rundown/analysis/runs"
	"rundown/analysis/series"
	"rundown/dsp/wavio"
	"rundown/plotting/chart"
	"rundown/plotting/page"
)

const seriesUsage = `Usage: rundown series [flags] FOLDER [FOLDER ...]

Each is the results folder of an analysis, or a folder that holds such folders.

`

// seriesFlags are the settings of the series command as they were given.
type seriesFlags struct {
	folders     []string
	by, out     string
	environment environmentFlags
	common
}

func (a *seriesFlags) run(ctx context.Context, s streams) (int, error) {
	found, err := a.series(ctx)
	if err != nil {
		return exitFailure, err
	}
	err = s.print(func(w io.Writer) error {
		if a.json {
			return analysis.WriteJSON(w, found)
		}
		return found.WriteText(w, a.out)
	}, "; the series is in "+a.out)
	if slices.ContainsFunc(found.Runs, func(r series.Run) bool { return r.HasBeat }) {
		return exitOK, err
	}
	return exitNoBeat, err
}

// parseSeries reads the command line.
func parseSeries(args []string) (command, error) {
	a := &seriesFlags{common: newCommon("series")}
	f := a.set
	f.StringVar(&a.by, "by", string(series.ByTime), "order of the runs, `WHAT`: time, or label for groups of one label")
	f.StringVar(&a.out, "out", "", "folder `DIR` for the series (default: beside the first folder, named after it)")
	a.environment.bind(f)
	a.bindOutput("series")
	if err := f.Parse(args); err != nil {
		return a, err
	}
	a.folders = f.Args()
	switch {
	case len(a.folders) == 0:
		return a, errors.New("series needs a results folder; see: rundown series --help")
	case a.by != string(series.ByTime) && a.by != string(series.ByLabel):
		return a, fmt.Errorf("--by %s: must be %s or %s", a.by, series.ByTime, series.ByLabel)
	case slices.Contains(a.folders, ""):
		return a, errors.New("a folder has an empty name")
	}
	err := a.named(a.out)
	if a.out == "" {
		a.out = besideFolder(a.folders[0])
	}
	return a, err
}

// besideFolder is the folder for a series whose first folder is given.
func besideFolder(first string) string {
	first = filepath.Clean(first)
	if strings.HasSuffix(first, ".") || strings.HasSuffix(first, string(filepath.Separator)) {
		return "runs.series" // the folder has no name here
	}
	return strings.TrimSuffix(first, ".rundown") + ".series"
}

// series reads all runs and leaves a complete series, or nothing.
func (a *seriesFlags) series(ctx context.Context) (*series.Series, error) {
	if err := foreign(a.out, export.SummaryName); err != nil {
		return nil, err
	}
	log, err := a.environment.load()
	if err != nil {
		return nil, err
	}
	if log != nil && log.Elapsed {
		return nil, usageError{fmt.Errorf("--environment %s: it counts elapsed time, which is another in every run; give a log with dates", a.environment.file)}
	}
	s, err := analysis.Promptly(ctx, func() (*series.Series, error) {
		var all []*runs.Run
		for _, folder := range a.folders {
			found, err := resultsIn(folder)
			if err != nil {
				return nil, err
			}
			for _, dir := range found {
				if err := ctx.Err(); err != nil {
					return nil, err
				}
				r, err := runs.Read(dir)
				if err != nil {
					return nil, err
				}
				all = append(all, r)
			}
		}
		return series.Line(all, series.Order(a.by), log)
	})
	if err != nil {
		return nil, err
	}
	return s, writeSeries(ctx, a.out, s)
}

// resultsIn are the results folders that a folder is or holds.
func resultsIn(folder string) ([]string, error) {
	if _, err := os.Stat(filepath.Join(folder, export.SummaryName)); err == nil {
		return []string{folder}, nil
	}
	entries, err := os.ReadDir(folder)
	if err != nil {
		return nil, fmt.Errorf("%w; give the results folder of an analysis, or a folder that holds some", err)
	}
	var found []string
	for _, e := range entries {
		// Other commands leave a summary too, and no windows.
		dir := filepath.Join(folder, e.Name())
		_, err := os.Stat(filepath.Join(dir, export.SummaryName))
		_, missing := os.Stat(filepath.Join(dir, "windows.csv"))
		if err == nil && missing == nil {
			found = append(found, dir)
		}
	}
	if found == nil {
		return nil, fmt.Errorf("%s: there are no results in it; analyse its recordings first", wavio.OneLine(folder))
	}
	return found, nil
}

// writeSeries leaves the complete series in dir, or what was there before.
func writeSeries(ctx context.Context, dir string, s *series.Series) error {
	pictures, err := drawn(ctx, []picture{{"series", chart.Runs(s)}})
	if err != nil {
		return err
	}
	show := page.Lineup{Series: s, Picture: pictures[0]}
	return writeFolder(ctx, dir, []output{
		{"series.csv", s.WriteCSV},
		{"series.png", holding(show.PNG)},
		{"series.html", func(w io.Writer) error { return page.Series(w, show) }},
		{"series.json", func(w io.Writer) error { return analysis.WriteJSON(w, s) }},
	})
}
