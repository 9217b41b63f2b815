package export

import (
	"io"
	"math"
	"strconv"
	"strings"

	"rundown/analysis"
	"rundown/analysis/beat"
	"rundown/analysis/prose"
	"rundown/analysis/rate"
)

// table writes rows of comma-separated values (RFC 4180, lines ended by a
// single newline). A row is built by its methods and ended by end. Errors
// stick.
type table struct {
	w   io.Writer
	row []byte
	err error
}

func newTable(w io.Writer, columns ...string) *table {
	t := &table{w: w}
	for _, c := range columns {
		t.text(c)
	}
	t.end()
	return t
}

// next puts the comma before all fields but the first.
func (t *table) next() {
	if len(t.row) > 0 {
		t.row = append(t.row, ',')
	}
}

func (t *table) integer(n int64) {
	t.next()
	t.row = strconv.AppendInt(t.row, n, 10)
}

// number writes x with the given number of decimals, or an empty field if it
// is not a finite number, which must not be the first of its row.
func (t *table) number(x float64, decimals int) {
	t.next()
	if analysis.Number(x).Known() {
		t.row = strconv.AppendFloat(t.row, x, 'f', decimals, 64)
	}
}

// text writes a string, quoted where it has to be. It must not be empty if it
// is the first of its row.
func (t *table) text(s string) {
	t.next()
	s = prose.Cell(s)
	if strings.ContainsAny(s, ",\"\r\n") {
		s = `"` + strings.ReplaceAll(s, `"`, `""`) + `"`
	}
	t.row = append(t.row, s...)
}

func (t *table) end() {
	t.row = append(t.row, '\n')
	if t.err == nil {
		_, t.err = t.w.Write(t.row)
	}
	t.row = t.row[:0]
}

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

// Windows writes the table of windows. Amplitudes are in the unit of their
// kind: degrees, milliseconds of lift time, or dBFS. clock holds what the
// recorder's clock adds to the error of each rate, s/day, NaN where it is not
// known.
func Windows(w io.Writer, ws []rate.Window, clock []float64, kind rate.AmplitudeKind) error {
	t := newTable(w, "start_s", "end_s", "beats", "heard", "period_s", "period_se_s", "rate_s_per_day", "rate_se_s_per_day",
		"beat_error_ms", "beat_error_se_ms", "amplitude", "amplitude_se", "level_db", "rate_clock_se_s_per_day",
		"lift_ms", "lift_se_ms")
	scale := 1.0
	if kind == rate.LiftTime {
		scale = 1e3
	}
	for i := range ws {
		w := &ws[i]
		t.number(w.Start, 6)
		t.number(w.End, 6)
		t.integer(int64(w.Beats))
		t.integer(int64(w.Heard))
		t.value(w.Period, 1, 12)
		t.value(w.Rate, 1, 6)
		t.value(w.BeatError, 1e3, 6)
		t.value(w.Amplitude, scale, 4)
		t.number(w.Level.X, 2)
		t.number(clock[i], 6)
		t.value(w.Lift, 1e3, 5)
		t.end()
	}
	return t.err
}

// value writes a figure and its standard error, both scaled.
func (t *table) value(v rate.Value, scale float64, decimals int) {
	t.number(scale*v.X, decimals)
	t.number(scale*v.SE, decimals)
}

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

// Stability writes the table of stability against averaging time: Allan
// deviation of the fractional rate and time deviation in seconds, with their
// 95 % intervals; the floors that the scatter of the beats and the recorder's
// clock set; the noise that dominates, and the degrees of freedom. floor has
// one entry for each of ss.
func Stability(w io.Writer, ss []rate.Stability, floor []analysis.ClockFloor) error {
	t := newTable(w, "averaging_s", "allan_deviation", "allan_low", "allan_high", "time_deviation_s", "time_low_s", "time_high_s",
		"scatter_floor_allan", "scatter_floor_time_s", "clock_floor_allan", "degrees_of_freedom", "noise_type")
	for i, s := range ss {
		t.number(s.Tau, 6)
		for _, x := range []float64{s.Allan, s.AllanLow, s.AllanHigh} {
			t.number(x, 15)
		}
		for _, x := range []float64{s.Time, s.TimeLow, s.TimeHigh} {
			t.number(x, 12)
		}
		t.number(s.AllanFloor, 15)
		t.number(s.TimeFloor, 12)
		t.number(floor[i].Sigma, 15)
		t.number(s.Freedom, 1)
		t.text(s.Noise)
		t.end()
	}
	return t.err
}
