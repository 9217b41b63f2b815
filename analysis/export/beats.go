package export

import (
	"io"
	"math"

	"rundown/analysis"
)

// Beats streams the table of beats.
type Beats struct{ t *table }

// NewBeats writes the header of the table to w.
func NewBeats(w io.Writer) *Beats {
	return &Beats{newTable(w, "beat", "elapsed_s", "side", "heard", "interval_s", "residual_ms", "level_db")}
}

// Append writes rows. An error sticks.
func (b *Beats) Append(rows []analysis.Row) error {
	t := b.t
	for i := range rows {
		r := &rows[i]
		heard, level := int64(1), r.Level
		if !r.Heard {
			heard, level = 0, math.NaN()
		}
		t.integer(r.Index)
		t.number(r.Time, 9)
		t.text(r.Side.String())
		t.integer(heard)
		t.number(r.Interval, 9)
		t.number(1e3*r.Residual, 6)
		t.number(level, 2)
		t.end()
	}
	return t.err
}
