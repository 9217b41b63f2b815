package export

import (
	"io"
	"strconv"

	"rundown/analysis"
)

// Recurrences writes the table of what comes round again.
func Recurrences(w io.Writer, rs []analysis.Recurrence) error {
	t := newTable(w, "kind", "period_beats", "phase_beats", "occurrences", "opportunities", "size_ms", "p_value", "match", "note")
	for _, r := range rs {
		t.text(r.Kind)
		t.number(float64(r.PeriodBeats), 4)
		t.number(float64(r.PhaseBeats), 2)
		t.integer(int64(r.Occurrences))
		t.integer(int64(r.Opportunities))
		t.number(float64(r.Size), 4)
		t.text(strconv.FormatFloat(float64(r.PValue), 'g', 3, 64))
		t.text(r.Match)
		t.text(r.Note)
		t.end()
	}
	return t.err
}
