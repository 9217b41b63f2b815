package page

import (
	"bytes"
	"fmt"
	"io"
	"path/filepath"

	"rundown/analysis/beat"
	"rundown/analysis/compare"
	"rundown/analysis/prose"
	"rundown/plotting/chart"
)

// Pair is what the report of two runs shows. Nothing in it is changed.
type Pair struct {
	*compare.Comparison
	BeforeRun, AfterRun chart.Run
	Figure              *chart.Figure // of chart.Compare
	Picture             []byte        // it as PNG
}

// pairView is what its template shows.
type pairView struct {
	frame
	Before, After      string
	Facts              []entry
	Headline           string
	Problems, Notes    []string
	Curves, Difference *figure
	Rows               []compare.Row
	Kinds              []pairKind
}

// pairKind counts a kind of event in both runs.
type pairKind struct {
	Name          beat.Kind
	Before, After string
	Meaning       string
}

// Compare writes the report of two runs. The error is w's.
func Compare(w io.Writer, p Pair) error {
	var buf bytes.Buffer
	if err := pages().ExecuteTemplate(&buf, "compare.html", newPairView(p)); err != nil {
		return err
	}
	_, err := buf.WriteTo(w)
	return err
}

func newPairView(p Pair) *pairView {
	paths := []string{p.Before.Path, p.After.Path}
	v := &pairView{
		Before: filepath.Base(p.Before.Path), After: filepath.Base(p.After.Path),
		Headline: withoutFolders(p.Headline, paths),
		Facts: []entry{
			{"Before (A)", sideInShort(p.Before)}, {"After (B)", sideInShort(p.After)},
			{"Compared at equal", aligned(p.Alignment)}, {"Each window", prose.Span(p.Before.Window)},
		},
		Curves: &figure{Role: "pair", Title: "Rate of both runs against elapsed time", Picture: embedded("image/png", p.Picture), Close: true,
			Alt:   "Rate of both runs against elapsed time. " + withoutFolders(p.Headline, paths),
			How:   "Where the curves part by more than their pale bands, the runs differ there. Solid and dark is before, dashed is after.",
			chart: p.panel(chart.ComparedRates)},
		Difference: &figure{Role: "difference", Title: "Difference of the rates, after minus before", Close: true,
			How:   "At zero the runs agree. Above it, the movement gains more after than before.",
			chart: p.panel(chart.ComparedDifference)},
	}
	v.frame = newFrame(fmt.Sprintf("%s and %s compared", v.Before, v.After))
	curves := p.Figure.Panels[chart.ComparedRates]
	v.Data = newData(curves.X.High, map[string]*figure{"pair": v.Curves, "difference": v.Difference})
	for i := range p.Metrics {
		m := &p.Metrics[i]
		v.Rows = append(v.Rows, m.Row())
		if m.Note != "" {
			v.Notes = append(v.Notes, m.Label+": "+withoutFolders(m.Note, paths))
		}
	}
	for _, note := range p.Notes {
		v.Problems = append(v.Problems, withoutFolders(note, paths))
	}
	for _, k := range beat.Kinds {
		a, b := countOf(p.BeforeRun.Events, k), countOf(p.AfterRun.Events, k)
		if a+b > 0 {
			v.Kinds = append(v.Kinds, pairKind{k, prose.Grouped(int64(a)), prose.Grouped(int64(b)), prose.Kind(k)})
		}
	}
	return v
}

func aligned(by compare.Alignment) string {
	if by == compare.Elapsed {
		return "elapsed time"
	}
	return string(by)
}

func sideInShort(s compare.Side) string {
	clock := "clock not checked"
	if s.ClockVerified {
		clock = "clock checked"
	}
	return prose.Span(s.Duration) + ", " + prose.PerHour(s.Nominal) + " an hour, " + clock
}

func countOf(events []beat.Event, kind beat.Kind) int {
	n := 0
	for _, ev := range events {
		if ev.Kind == kind {
			n++
		}
	}
	return n
}

// panel is one panel of the comparison as a figure of its own.
func (p Pair) panel(which int) *chart.Figure {
	return &chart.Figure{Title: p.Figure.Title, Panels: p.Figure.Panels[which : which+1]}
}
