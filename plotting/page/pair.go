package page

import (
	"fmt"
	"io"
	"slices"
	"strings"

	"rundown/analysis/beat"
	"rundown/analysis/compare"
	"rundown/analysis/prose"
	"rundown/plotting/chart"
)

// Pair is what the report of the runs of two states shows. Nothing in it is
// changed.
type Pair struct {
	*compare.Comparison
	BeforeRuns, AfterRuns []chart.Run
	Picture               // of chart.Compare
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
	Repeated           bool
	Runs               []pairRun
	Labels             []string // of the figures of Runs
	Repeats            string
	Kinds              []pairKind
}

// pairRun is one run and its figures.
type pairRun struct {
	State, Name, Noted string
	Figures            []string
}

// pairKind counts a kind of event in both runs.
type pairKind struct {
	Name          beat.Kind
	Before, After string
	Meaning       string
}

// Compare writes the report of the runs of two states. The error is w's.
func Compare(w io.Writer, p Pair) error {
	return render(w, "compare.html", newPairView(p))
}

func newPairView(p Pair) *pairView {
	names := p.Names()
	n := len(p.Comparison.BeforeRuns)
	v := &pairView{
		Before: names[0], After: names[n], Repeated: p.Repeated(), Repeats: p.Repeats,
		Headline: p.called(p.Headline),
		Facts: []entry{
			{"Before (A)", sideInShort(p.Before)}, {"After (B)", sideInShort(p.After)},
			{"Compared at equal", aligned(p.Alignment)}, {"Each window", prose.Span(p.Before.Window)},
		},
	}
	if v.Repeated {
		v.Before, v.After = prose.Count(n, "run", "runs")+" before", prose.Count(len(names)-n, "run", "runs")+" after"
	}
	v.figures(p)
	v.rows(p)
	for _, note := range p.Notes {
		v.Problems = append(v.Problems, p.called(note))
	}
	for _, k := range beat.Kinds {
		a, b := countOf(p.BeforeRuns, k), countOf(p.AfterRuns, k)
		if a+b > 0 {
			v.Kinds = append(v.Kinds, pairKind{k, prose.Grouped(int64(a)), prose.Grouped(int64(b)), prose.Kind(k)})
		}
	}
	return v
}

// called names the runs in a text by their names, not by their folders.
func (p Pair) called(text string) string {
	for i, s := range slices.Concat(p.Comparison.BeforeRuns, p.Comparison.AfterRuns) {
		text = strings.ReplaceAll(text, s.Path, p.Names()[i])
	}
	return text
}

func (v *pairView) figures(p Pair) {
	curves := "Where the curves part by more than their pale bands, the runs differ there. Solid and dark is before, dashed is after."
	band := "The band is that of the measurement alone."
	if v.Repeated {
		curves = "Solid and dark are the runs before, dashed those after. Only where the two kinds part by more than runs of one kind do is that the change."
		band = "The difference is that of the means; its band holds what runs of one state differ by."
	}
	v.Curves = &figure{Role: "pair", Title: "Rate of all runs against elapsed time", Picture: embedded("image/png", p.PNG), Close: true,
		Alt: "Rate of all runs against elapsed time. " + v.Headline, How: curves, chart: p.panel(chart.ComparedRates)}
	v.Difference = &figure{Role: "difference", Title: "Difference of the rates, after minus before", Close: true,
		How:   "At zero the runs agree. Above it, the movement gains more after than before. " + band,
		chart: p.panel(chart.ComparedDifference)}
	v.frame = newFrame(fmt.Sprintf("%s and %s compared", v.Before, v.After))
	v.Data = newData(p.Figure.Panels[chart.ComparedRates].X.High, map[string]*figure{"pair": v.Curves, "difference": v.Difference})
}

// rows are the figures of both states, and with repeats those of every run.
func (v *pairView) rows(p Pair) {
	names := p.Names()
	for i, s := range slices.Concat(p.Comparison.BeforeRuns, p.Comparison.AfterRuns) {
		state := "before"
		if i >= len(p.Comparison.BeforeRuns) {
			state = "after"
		}
		v.Runs = append(v.Runs, pairRun{State: state, Name: names[i], Noted: prose.Notes(s.Notes)})
	}
	for i := range p.Metrics {
		m := &p.Metrics[i]
		row := m.Row()
		v.Rows = append(v.Rows, row)
		if m.Note != "" {
			v.Notes = append(v.Notes, m.Label+": "+p.called(m.Note))
		}
		figures := m.Figures()
		if len(figures) != len(v.Runs) {
			continue
		}
		v.Labels = append(v.Labels, row.Label)
		for k, text := range figures {
			v.Runs[k].Figures = append(v.Runs[k].Figures, text)
		}
	}
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
	text := prose.Span(s.Duration) + ", " + prose.PerHour(s.Nominal) + " an hour, " + clock
	if noted := prose.Notes(s.Notes); noted != "" {
		text += "; " + noted
	}
	return text
}

// countOf counts the events of a kind in all of some runs.
func countOf(runs []chart.Run, kind beat.Kind) int {
	n := 0
	for _, r := range runs {
		for _, ev := range r.Events {
			if ev.Kind == kind {
				n++
			}
		}
	}
	return n
}

// panel is one panel of the comparison as a figure of its own.
func (p Pair) panel(which int) *chart.Figure {
	return &chart.Figure{Title: p.Figure.Title, Panels: p.Figure.Panels[which : which+1]}
}
