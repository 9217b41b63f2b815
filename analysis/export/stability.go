package export

import (
	"io"

	"rundown/analysis"
	"rundown/analysis/rate"
)

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
