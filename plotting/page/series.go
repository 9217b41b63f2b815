package page

import (
	"io"
	"strings"

	"rundown/analysis/prose"
	"rundown/analysis/series"
	"rundown/plotting/chart"
)

// Lineup is what the report of a series shows. Nothing in it is changed.
type Lineup struct {
	*series.Series
	Picture // of chart.Runs
}

// lineupView is what its template shows.
type lineupView struct {
	frame
	Heading   string
	Facts     []entry
	Sentences []string
	Notes     []string
	Columns   []string
	Runs      []lineupRow
	Rate, All *figure
	Tables    []lineupTable
}

// lineupRow is a row of one of its tables.
type lineupRow struct {
	Number      int // of the run, or of runs
	Name, Noted string
	Cells       []string
}

// lineupTable is a table of means.
type lineupTable struct {
	ID, Title, Caption, Of string
	Number                 int
	Rows                   []lineupRow
}

// Series writes the report of a series. The error is w's.
func Series(w io.Writer, l Lineup) error {
	return render(w, "series.html", newLineupView(l))
}

func newLineupView(l Lineup) *lineupView {
	v := &lineupView{
		Heading: prose.Count(len(l.Runs), "run", "runs"), Sentences: l.Sentences(), Notes: l.Notes, Columns: l.Series.Columns(),
		Rate: &figure{Role: "lineup", Title: "Mean rate of each run", Close: l.Figure.Panels[0].Banner == "",
			How:   "Each point is a run, by its number in the table below. The bars are what the run does not know of itself: smaller than the point where they can't be seen.",
			chart: &chart.Figure{Title: l.Figure.Title, Panels: l.Figure.Panels[:1]}},
		All: &figure{Role: "figures", Title: l.Figure.Title, Picture: embedded("image/png", l.PNG),
			Alt: "The figures of the table, run by run.", How: strings.Join(l.Figure.Notes, " "), chart: l.Figure},
	}
	order := "of time, or as given where that is not known"
	if l.Order == series.ByLabel {
		order = "of their labels"
	}
	v.Facts = []entry{{"In order", order}}
	for i, r := range l.Runs {
		v.Runs = append(v.Runs, lineupRow{i + 1, r.Name, prose.Notes(r.Notes), series.Cells(r.Values)})
	}
	v.table("labels", "What do the runs of each label show?", "label", l.Labels)
	v.table("positions", "How does it go in each position?", "position", l.Positions)
	v.frame = newFrame(v.Heading + " side by side")
	v.Data = newData(float64(len(l.Runs)), map[string]*figure{"lineup": v.Rate})
	return v
}

// table adds a table of groups, if there are any.
func (v *lineupView) table(id, title, of string, groups []series.Group) {
	if len(groups) == 0 {
		return
	}
	t := lineupTable{ID: id, Title: title, Of: of, Number: len(v.Tables) + 2,
		Caption: "Means of the runs. ± is one standard error, by what runs of one " + of + " differ by where there are repeats, and no less than what the runs do not know of themselves."}
	for _, g := range groups {
		t.Rows = append(t.Rows, lineupRow{Number: g.Runs, Name: g.Name(), Cells: series.Cells(g.Values)})
	}
	v.Tables = append(v.Tables, t)
}
