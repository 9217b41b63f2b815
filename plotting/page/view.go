package page

import (
	"crypto/sha256"
	"encoding/base64"
	"html/template"
	"path/filepath"
	"strings"

	"rundown/analysis"
	"rundown/analysis/beat"
	"rundown/analysis/prose"
	"rundown/plotting/chart"
)

// view is what the template shows.
type view struct {
	frame
	Name        string
	OK          bool
	Facts       []entry
	Finding     string
	Problems    []string
	Run         answer
	Rate        answer
	Band        answer
	InBeat      answer
	Wrong       answer
	Trust       answer
	Next        answer
	Further     []string
	Kinds       []kind
	Recurrences []recurrence
	Events      []event
	Omitted     int // events that the table leaves out
	Unprinted   bool
	Sounds      sounds
	Parts       []part
	Widths      []width
	Environment []string
	Figures     map[string]*figure
	Turns       []*figure
}

// frame is what every page has.
type frame struct {
	Title            string
	Style            template.CSS
	Charting, Script template.JS
	Scripts          string // the sources that may run: these two, by their digests
	Data             data
}

func newFrame(title string) frame {
	charting, script := "/*\n"+asset("uplot-licence.txt")+"*/\n"+asset("uplot.js"), asset("report.js")
	return frame{
		Title:    title,
		Style:    template.CSS(asset("uplot.css") + asset("report.css")),
		Charting: template.JS(charting),
		Script:   template.JS(script),
		Scripts:  allowed(charting) + " " + allowed(script),
	}
}

// allowed is a script as a policy allows it (W3C, Content Security Policy Level 2).
func allowed(script string) string {
	digest := sha256.Sum256([]byte(script))
	return "'sha256-" + base64.StdEncoding.EncodeToString(digest[:]) + "'"
}

// entry is a figure with its name.
type entry struct{ Label, Text string }

// answer is what the page says to one question.
type answer struct {
	Text    string
	Entries []entry
}

// kind is a kind of event that occurred.
type kind struct {
	Name    beat.Kind
	Count   string
	Meaning string
}

// recurrence is what comes round again.
type recurrence struct{ Period, Match, Seen, Size, P, Note string }

// newView fills in everything but what must fit into the room that is left.
func newView(r Run) *view {
	s := &r.Summary
	v := &view{
		frame:   newFrame("Report on " + prose.Name(s)),
		Name:    prose.Name(s),
		OK:      s.Status == analysis.OK,
		Facts:   facts(r),
		Finding: prose.Finding(s),
		Sounds:  newSounds(r),
	}
	for _, problem := range s.Recording.Problems {
		v.Problems = append(v.Problems, withoutFolders(problem, s.Recording.Paths))
	}
	v.Next, v.Further = answer{Text: prose.Advice(s)}, prose.Further(s)
	if !v.OK {
		return v
	}
	v.answers(r)
	v.Figures = newFigures(r)
	v.Turns = turnFigures(r)
	v.Data = newData(r.end(), v.Figures)
	v.table(r)
	v.setSounds()
	return v
}

// withoutFolders leaves of the recordings' paths only the names.
func withoutFolders(text string, paths []string) string {
	for _, path := range paths {
		text = strings.ReplaceAll(text, path, filepath.Base(path))
	}
	return text
}

// data is what the page's script draws.
type data struct {
	End     float64                  `json:"end"`     // of the recording, s
	Figures map[string]*chart.Figure `json:"figures"` // by role: those to be read closely
	Events  []mark                   `json:"events"`  // in order of time
}

// mark is an event as it is drawn.
type mark struct {
	Kind  beat.Kind `json:"kind"`
	Beat  int64     `json:"beat"`
	Start float64   `json:"start"` // s
	Shift float64   `json:"shift"` // ms
	Row   int       `json:"row"`   // of the table of events, from 1; 0 where it is not in it
}

// newData takes the figures that the page draws itself.
func newData(end float64, shown map[string]*figure) data {
	d := data{End: end, Figures: map[string]*chart.Figure{}, Events: []mark{}}
	for role, f := range shown {
		if f.Close {
			d.Figures[role] = f.chart
		}
	}
	return d
}

// end is the length of the recording in seconds.
func (r Run) end() float64 { return float64(r.Recording.Duration) }
