package page

import (
	"cmp"
	"fmt"
	"html/template"
	"math"
	"slices"

	"rundown/analysis"
	"rundown/analysis/beat"
	"rundown/analysis/prose"
)

// event is a row of the table of events.
type event struct {
	ID                      int
	Kind                    beat.Kind
	When, Beat, Shift, Note string
	Minor                   bool              // not printed
	Sound                   template.HTMLAttr // where it comes from, empty for none
	source                  beat.Event
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
			Kind: ev.Kind, Beat: ev.Beat, Start: ev.Start, Shift: 1e3 * ev.Shift,
			Row: rows[happening{ev.Kind, ev.Beat, ev.Start}],
		})
	}
}

// setSounds brings the rows up to date with the sounds.
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

// mostMarks is how many events the charts show.
const mostMarks = 4000

// inTime orders events by time.
func inTime(a, b beat.Event) int { return cmp.Compare(a.Start, b.Start) }

// clock writes a moment of the run as hours, minutes and seconds.
func clock(seconds float64) string {
	tenths := int64(math.Round(10 * seconds))
	return fmt.Sprintf("%d:%02d:%02d.%d", tenths/36000, tenths/600%60, tenths/10%60, tenths%10)
}
