package export

import (
	"io"

	"rundown/analysis/beat"
)

// Events streams the table of events.
type Events struct{ t *table }

// NewEvents writes the header of the table to w.
func NewEvents(w io.Writer) *Events {
	return &Events{newTable(w, "kind", "beat", "start_s", "end_s", "shift_ms", "note")}
}

// Append writes events. An error sticks.
func (e *Events) Append(events []beat.Event) error {
	t := e.t
	for _, ev := range events {
		t.text(string(ev.Kind))
		t.integer(ev.Beat)
		t.number(ev.Start, 6)
		t.number(ev.End, 6)
		t.number(1e3*ev.Shift, 4)
		t.text(ev.Note)
		t.end()
	}
	return t.err
}
