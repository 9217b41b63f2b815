package main

import (
	"io"

	"rundown/analysis"
	"rundown/plotting/page"
)

// page writes the report that shows everything else. It goes last, when the
// clips have their names.
func (r *results) page(run *analysis.Result) error {
	show := page.Run{Result: run, Events: r.kept, Pictures: r.drawn}
	return r.write("report", "report.html", func(w io.Writer) error { return page.Write(w, show) })
}
