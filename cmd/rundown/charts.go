package main

import (
	"context"
	"path/filepath"

	"rundown/analysis"
	"rundown/plotting/chart"
)

// picture is a chart of the results folder.
type picture struct {
	role   string // names the file too
	figure *chart.Figure
}

// charts draws every chart that the run has data for.
func (r *results) charts(ctx context.Context, run *analysis.Result) error {
	for _, p := range r.pictures(run) {
		if err := ctx.Err(); err != nil {
			return err
		}
		if err := r.write(p.role, p.role+".png", p.figure.WritePNG); err != nil {
			return err
		}
	}
	return nil
}

func (r *results) pictures(run *analysis.Result) []picture {
	show := chart.Run{
		Heading: heading(&run.Summary),
		Windows: run.Windows,
		Band:    run.Band,
		Kind:    run.AmplitudeKind,
		Events:  r.kept,
	}
	if b := run.Summary.Barrel; b != nil {
		show.Turns = &chart.Turns{Name: b.Name, Start: float64(run.Summary.Beat.First), Each: float64(b.Turn)}
	}
	return []picture{
		{"rate", chart.Rate(show)},
		{"period", chart.Period(show)},
		{"amplitude", chart.Amplitude(show)},
		{"beat-error", chart.BeatError(show)},
		{"isochronism", chart.Isochronism(show)},
	}
}

// heading says which run a chart shows: by the file's name alone, since charts
// are passed on.
func heading(s *analysis.Summary) chart.Heading {
	name := "standard input"
	if first := s.Recording.Paths[0]; first != stdinName {
		name = filepath.Base(first)
	}
	return chart.Heading{Name: name, Nominal: float64(s.Beat.Nominal)}
}
