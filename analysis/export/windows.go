package export

import (
	"io"

	"rundown/analysis/rate"
)

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
