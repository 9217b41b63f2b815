package chart

import (
	"slices"
	"testing"

	"gonum.org/v1/plot"

	"rundown/analysis/rate"
)

// labelled lists the labels of an axis.
func labelled(ticks []plot.Tick) []string {
	var ls []string
	for _, t := range ticks {
		if !t.IsMinor() {
			ls = append(ls, t.Label)
		}
	}
	return ls
}

func TestElapsedAxis(t *testing.T) {
	for _, c := range []struct {
		length float64 // s
		label  string
		ticks  []string
	}{
		{0.5, "elapsed time (s)", []string{"0.0", "0.1", "0.2", "0.3", "0.4", "0.5"}},
		{5, "elapsed time (s)", []string{"0", "1", "2", "3", "4", "5"}},
		{minute, "elapsed time (s)", []string{"0", "10", "20", "30", "40", "50", "60"}},
		{4 * minute, "elapsed time (min:s)", []string{"0:00", "0:30", "1:00", "1:30", "2:00", "2:30", "3:00", "3:30", "4:00"}},
		{10 * minute, "elapsed time (min)", []string{"0", "2", "4", "6", "8", "10"}},
		{20 * minute, "elapsed time (min)", []string{"0", "5", "10", "15", "20"}},
		{hour, "elapsed time (h:min)", []string{"0:00", "0:10", "0:20", "0:30", "0:40", "0:50", "1:00"}},
		{2 * hour, "elapsed time (h:min)", []string{"0:00", "0:15", "0:30", "0:45", "1:00", "1:15", "1:30", "1:45", "2:00"}},
		{8 * hour, "elapsed time (h)", []string{"0", "1", "2", "3", "4", "5", "6", "7", "8"}},
		{3 * day, "elapsed time (h)", []string{"0", "12", "24", "36", "48", "60", "72"}},
		{8 * day, "elapsed time (days)", []string{"0", "1", "2", "3", "4", "5", "6", "7", "8"}},
		{90 * day, "elapsed time (days)", []string{"0", "10", "20", "30", "40", "50", "60", "70", "80", "90"}},
	} {
		a := elapsedAxis(span{0, c.length}, mostTimes)
		if got := labelled(a.Ticks); a.Label != c.label || !slices.Equal(got, c.ticks) {
			t.Errorf("%g s: %q %q, want %q %q", c.length, a.Label, got, c.label, c.ticks)
		}
	}
}

func TestValueAxis(t *testing.T) {
	for _, c := range []struct {
		lo, hi float64
		signed bool
		ticks  []string
	}{
		{-0.2, 10.3, true, []string{"0", "+2", "+4", "+6", "+8", "+10"}},
		{-83, 58, true, []string{"−80", "−60", "−40", "−20", "0", "+20", "+40"}},
		{400.0012, 400.0093, false, []string{"400.002", "400.004", "400.006", "400.008"}},
		{-0.5, 0.5, true, []string{"−0.4", "−0.2", "0.0", "+0.2", "+0.4"}},
		{161, 294, false, []string{"180", "200", "220", "240", "260", "280"}},
		{-1e9, 1e9, false, []string{"−1000000000", "−500000000", "0", "500000000", "1000000000"}},
	} {
		a := valueAxis("", span{c.lo, c.hi}, mostValues, c.signed)
		if got := labelled(a.Ticks); !slices.Equal(got, c.ticks) {
			t.Errorf("%g to %g: %q, want %q", c.lo, c.hi, got, c.ticks)
		}
	}
}

// Any range has two labels or more, no more than asked for where there is a step that
// leaves as many, and all ticks lie within it.
func TestValueAxisOfAnyRange(t *testing.T) {
	for width := 1e-6; width < 1e6; width *= 1.3 {
		for _, lo := range []float64{0, -width / 3, -width / 2, 7.7 * width, -123.4 * width} {
			for most := 3; most <= mostTimes; most++ {
				a := valueAxis("", span{lo, lo + width}, most, true)
				if n := len(labelled(a.Ticks)); n < 2 || n > max(most, 5) {
					t.Errorf("%g to %g, at most %d: %d labels", lo, lo+width, most, n)
				}
			}
			a := valueAxis("", span{lo, lo + width}, mostValues, true)
			for _, tick := range a.Ticks {
				if tick.Value < lo-1e-6*width || tick.Value > lo+width*(1+1e-6) {
					t.Errorf("%g to %g: tick at %g", lo, lo+width, tick.Value)
				}
			}
		}
	}
}

func TestClock(t *testing.T) {
	if got := clock(3*hour + 12*minute + 5.4); got != "3:12:05" {
		t.Errorf("clock: %q", got)
	}
}

func TestLogTicks(t *testing.T) {
	for at := 1e-3; at < 90*day; at *= 1.1 {
		times, values := stabilitySpans([]rate.Stability{stability(at, at, nan, nan, nan)}, nil)
		if n, m := len(labelled(logTimes(times).Ticks)), len(labelled(logAxis("", values).Ticks)); n < 2 || m < 2 {
			t.Errorf("about %g: %d and %d labels", at, n, m)
		}
	}
	if got, want := labelled(logAxis("", span{0.05, 3000}).Ticks), []string{"0.1", "1", "10", "100", "1000"}; !slices.Equal(got, want) {
		t.Errorf("decades: %q, want %q", got, want)
	}
	if got, want := labelled(logAxis("", span{0.3, 3}).Ticks), []string{"0.5", "1", "2"}; !slices.Equal(got, want) {
		t.Errorf("within a decade: %q, want %q", got, want)
	}
	if got, want := labelled(logTimes(span{50, 4000}).Ticks), []string{"1 min", "2 min", "5 min", "10 min", "20 min", "1 h"}; !slices.Equal(got, want) {
		t.Errorf("times: %q, want %q", got, want)
	}
	if got, want := labelled(logTimes(span{0.9, 1.1 * day}).Ticks), []string{"1 s", "10 s", "1 min", "10 min", "1 h", "10 h", "1 d"}; !slices.Equal(got, want) {
		t.Errorf("times over a day: %q, want %q", got, want)
	}
}
