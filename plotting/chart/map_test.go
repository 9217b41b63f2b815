package chart

import (
	"math"
	"testing"

	"rundown/analysis/fault"
)

func TestMapKnowsStops(t *testing.T) {
	m, starts := turnsOf(10, 100, func(int) float64 { return 1e-4 })
	for row := range starts {
		if row >= 50 {
			starts[row] += hour
		}
	}
	h := newHeat(m, starts, 0)
	if got := h.breaks(1).Boxes; len(got) != 1 || got[0] != [4]float64{0, 49.5, 10, 50.5} {
		t.Errorf("stops at %v, want one before row 50", got)
	}
	at := map[string]float64{}
	for _, tick := range h.times(10).Ticks {
		if tick.Label != "" {
			at[tick.Label] = tick.Value
		}
	}
	// 50 rows take 100 s; then comes an hour, from 98 s on.
	if len(at) != 1 || at["0:00"] != 0 {
		t.Errorf("ticks at rows %v", at)
	}
	m, starts = turnsOf(10, 100, func(int) float64 { return 1e-4 })
	for _, tick := range newHeat(m, starts, 0).times(10).Ticks {
		if tick.Label == "1:00" && math.Abs(tick.Value-30) > 1e-9 {
			t.Errorf("a minute lies at row %g, want 30", tick.Value)
		}
	}
}

// Every cell of a strip is that of the beat that it stands for.
func TestStripsShowTheirBeats(t *testing.T) {
	m, starts := turnsOf(3, 4, func(beat int) float64 {
		if beat == 4 {
			return nan
		}
		return float64(beat) - 5
	})
	p := Map(Heading{}, m, starts, 0, nil).Panels[0]
	p.strips = 2
	for k, strip := range p.split() {
		cells := strip.rows().GridXYZ
		columns, rows := cells.Dims()
		for row := range rows {
			turn := -cells.Y(row) - 0.5 // counted from the top
			if int(turn)/2 != k {
				t.Errorf("strip %d holds turn %g", k, turn)
			}
			for column := range columns {
				beat, got := 3*int(turn)+column, cells.Z(column, row)
				if want := float64(beat) - 5; beat == 4 != math.IsNaN(got) || beat != 4 && math.Abs(got-want) > p.Heat.Limit/100 {
					t.Errorf("beat %d is %g", beat, got)
				}
			}
		}
	}
}

func TestCell(t *testing.T) {
	for x, want := range map[float64]byte{0: 128, 1: 228, -1: 28, 9: 255, -9: 1} {
		if got := cell(x); got != want {
			t.Errorf("cell(%v) = %d, want %d", x, got, want)
		}
	}
	if cell(math.NaN()) != 0 {
		t.Error("a beat that was not heard has a deviation")
	}
}

func TestGridColumnOfARecurrence(t *testing.T) {
	h := &Heat{Columns: 30}
	for _, c := range []struct {
		period, phase float64
		column        float64
		ok            bool
	}{
		{30, 10, 10.5, true},
		{90, 70, 10.5, true},
		{30, 29.9, 29.5, true},
		{15, 4, 0, false},
		{31, 4, 0, false},
		{nan, nan, 0, false},
	} {
		at, ok := h.column(fault.Recurrence{PeriodBeats: c.period, PhaseBeats: c.phase})
		if ok != c.ok || ok && at != c.column {
			t.Errorf("period %g, phase %g: %g, %t", c.period, c.phase, at, ok)
		}
	}
}

func TestRoundUp(t *testing.T) {
	for v, want := range map[float64]float64{1: 1, 1.2e-4: 1.5e-4, 0.016: 0.02, 299: 300, 31: 50, 51: 100} {
		if got := roundUp(v); math.Abs(got/want-1) > 1e-9 {
			t.Errorf("roundUp(%g) = %g, want %g", v, got, want)
		}
	}
}

func TestCallersMistakesPanic(t *testing.T) {
	for name, f := range map[string]func(){
		"rows without times":   func() { Map(Heading{}, fault.Map{Columns: 3, Rows: 1}, nil, 0, nil) },
		"turn without beats":   func() { Fold(Heading{}, Turn{}, nil) },
		"floor of two lengths": func() { Stability(Heading{}, nil, Floor{"x", []float64{1}, nil}) },
	} {
		func() {
			defer func() {
				if s, ok := recover().(string); !ok || s[:7] != "chart: " {
					t.Errorf("%s: recovered %v", name, s)
				}
			}()
			f()
		}()
	}
}
