package page

import (
	"html/template"
	"path/filepath"
	"slices"
	"strings"

	"rundown/analysis"
	"rundown/analysis/beat"
	"rundown/analysis/prose"
	"rundown/analysis/rate"
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
	Figures     map[string]*figure
	Turns       []*figure
}

// frame is what every page has.
type frame struct {
	Title           string
	Style           template.CSS
	Library, Script template.JS
	Data            data
}

func newFrame(title string) frame {
	return frame{
		Title:   title,
		Style:   template.CSS(asset("uplot.css") + asset("report.css")),
		Library: template.JS("/*\n" + asset("uplot-licence.txt") + "*/\n" + asset("uplot.js")),
		Script:  template.JS(asset("report.js")),
	}
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

// event is a row of the table of events.
type event struct {
	ID                      int
	Kind                    beat.Kind
	When, Beat, Shift, Note string
	Minor                   bool // not printed
	Sound                   template.URL
	source                  beat.Event
}

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
	v.Data = newData(r)
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

// table lists the most telling events, in order of time.
func (v *view) table(r Run) {
	events := slices.Clone(r.Events)
	slices.SortStableFunc(events, analysis.Telling)
	v.Omitted = max(len(events)-mostRows, 0)
	events = events[:min(len(events), mostRows)]
	minor := map[happening]bool{}
	for _, ev := range events[min(len(events), mostPrinted):] {
		minor[happening{ev.Kind, ev.Beat, ev.Start}] = true
	}
	v.Unprinted = len(minor) > 0
	slices.SortStableFunc(events, inTime)
	for i, ev := range events {
		v.Events = append(v.Events, newEvent(i+1, ev, minor[happening{ev.Kind, ev.Beat, ev.Start}]))
	}
	v.marks(r.Events)
}

// marks enters all events into the charts, with their rows in the table.
func (v *view) marks(events []beat.Event) {
	rows := make(map[happening]int, len(v.Events))
	for _, e := range v.Events {
		rows[happening{e.source.Kind, e.source.Beat, e.source.Start}] = e.ID
	}
	for _, ev := range events[:min(len(events), mostMarks)] {
		v.Data.Events = append(v.Data.Events, mark{
			Kind: ev.Kind, Beat: ev.Beat, Start: ev.Start, End: ev.End, Shift: 1e3 * ev.Shift,
			Row: rows[happening{ev.Kind, ev.Beat, ev.Start}],
		})
	}
}

// setSounds brings the rows and marks up to date with the sounds.
func (v *view) setSounds() {
	for i := range v.Events {
		v.Events[i].Sound = v.Sounds.of(v.Events[i].source)
	}
}

func newEvent(id int, ev beat.Event, minor bool) event {
	e := event{ID: id, Kind: ev.Kind, When: clock(ev.Start), Beat: prose.Grouped(ev.Beat), Note: ev.Note, Minor: minor, source: ev}
	switch {
	case ev.Kind == beat.Stop:
		e.Shift = prose.Span(analysis.Number(ev.End-ev.Start)) + " of standstill"
	case ev.Shift != 0:
		e.Shift = prose.SignedWithError(analysis.Number(1e3*ev.Shift), analysis.None(), "ms")
	case ev.End-ev.Start >= 0.01:
		e.Shift = "for " + prose.Span(analysis.Number(ev.End-ev.Start))
	}
	return e
}

// part is one of equal parts of the run.
type part struct{ From, To, Rate, Amplitude, BeatError, Heard string }

// width is a stable band for one tolerance.
type width struct {
	Allowed, From, To, Lasts, Mean string
	Chosen                         bool
}

// widths says how long the rate is steady for stricter and looser demands.
func widths(r Run) []width {
	chosen := float64(r.StableBand.Tolerance)
	tolerances := []float64{1, 2, 5, 10, 20, 50}
	if !slices.Contains(tolerances, chosen) {
		tolerances = append(tolerances, chosen)
		slices.Sort(tolerances)
	}
	var ws []width
	for _, tolerance := range tolerances {
		w := width{Allowed: prose.Plain(analysis.Number(tolerance), "s/day"), From: "–", To: "–", Lasts: "none", Mean: "–", Chosen: tolerance == chosen}
		if b, ok := rate.StableBand(r.Windows, tolerance); ok {
			w.From, w.To = prose.Span(analysis.Number(b.Start)), prose.Span(analysis.Number(b.End))
			w.Lasts = prose.Span(analysis.Number(b.End - b.Start))
			w.Mean = prose.SignedWithError(analysis.Number(b.Mean.X), analysis.Number(b.Mean.SE), "s/day")
		}
		ws = append(ws, w)
	}
	return ws
}
