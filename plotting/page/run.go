package page

import (
	"bytes"
	"embed"
	"html/template"
	"io"
	"sync"

	"rundown/analysis"
	"rundown/analysis/beat"
	"rundown/plotting/chart"
)

// Run is what the report of one run shows. Nothing in it is changed.
type Run struct {
	*analysis.Result
	Events   []beat.Event // in order of time; not necessarily all of them
	Pictures []Picture    // the charts drawn
}

// Picture is a chart as it is printed.
type Picture struct {
	Role   string // as in the summary's files: "rate", "period", "amplitude", …
	Figure *chart.Figure
	PNG    []byte
}

const (
	// sizeLimit is what a report may weigh in bytes: it is sent by mail.
	sizeLimit = 2_900_000
	// mostRows is how many events the table takes, and mostPrinted of how many
	// of them are printed.
	mostRows, mostPrinted = 1000, 60
)

//go:embed assets
var assets embed.FS

// pages are the templates, parsed when the first page is written.
var pages = sync.OnceValue(func() *template.Template {
	return template.Must(template.New("").Funcs(template.FuncMap{"figure": figureOf}).ParseFS(assets, "assets/*.html"))
})

// Write writes the report. The error is w's.
func Write(w io.Writer, r Run) error {
	v := newView(r)
	if len(r.Clips) > 0 {
		// As many sounds as there is room for beside the rest.
		var without bytes.Buffer
		if err := render(&without, "report.html", v); err != nil {
			return err
		}
		v.Sounds.embed(r, sizeLimit-without.Len())
		v.setSounds()
	}
	return render(w, "report.html", v)
}

// render writes a page by its template. The error is w's.
func render(w io.Writer, name string, view any) error {
	var buf bytes.Buffer
	if err := pages().ExecuteTemplate(&buf, name, view); err != nil {
		return err
	}
	_, err := buf.WriteTo(w)
	return err
}

// asset is the text of a file that goes into the page.
func asset(name string) string {
	text, err := assets.ReadFile("assets/" + name)
	if err != nil {
		panic("page: " + err.Error())
	}
	return string(text)
}
