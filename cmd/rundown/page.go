package main

import (
	"io"

	"rundown/analysis"
	"rundown/plotting/page"
)

// page writes the report that shows everything else. It goes last, when the
// clips have their names.
func (r *results) page(run *analysis.Result) error {
	show := page.Run{Result: run, Events: r.kept, Charts: r.shown(run), Pictures: r.drawn}
	if r.turns != nil {
		show.Grid, show.Teeth = r.turns.grid, r.turns.teeth
	}
	return r.write("report", "report.html", func(w io.Writer) error { return page.Write(w, show) })
}
