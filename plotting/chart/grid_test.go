package chart

import (
	"math"
	"slices"
	"testing"

	"rundown/analysis/fault"
)

// A grid that had to merge rows holds the means of what was added.
func TestGridMerges(t *testing.T) {
	const columns, turns = 6, 3*mostRows + 7
	deviation := func(beat int64) float64 { return float64(beat%7) - 3 }
	g := NewGrid(columns)
	for b := range int64(columns * turns) {
		if b%11 != 0 {
			g.Add(b, float64(b), deviation(b))
		}
	}
	if g.merged != 4 || g.rows() != (turns+3)/4 {
		t.Fatalf("%d rows of %d turns", g.rows(), g.merged)
	}
	for _, row := range []int{0, 1, g.rows() / 2, g.rows() - 1} {
		for c := range columns {
			sum, n := 0.0, 0.0
			for turn := row * g.merged; turn < min((row+1)*g.merged, turns); turn++ {
				if b := int64(turn*columns + c); b%11 != 0 {
					sum, n = sum+deviation(b), n+1
				}
			}
			if got := g.mean(row, c); math.Abs(got-sum/n) > 1e-12 {
				t.Errorf("row %d, column %d: %g, want %g", row, c, got, sum/n)
			}
		}
	}
	if row, ok := g.rowAt(float64(columns * 400)); !ok || math.Abs(row-100) > 0.1 {
		t.Errorf("turn 400 lies at row %g, %t", row, ok)
	}
}

// Whatever the wheel and the run, the memory is bounded.
func TestGridIsBounded(t *testing.T) {
	for _, columns := range []int{1, 30, 1000, 1 << 20} {
		g := NewGrid(columns)
		for turn := range int64(10000) {
			g.Add(turn*int64(columns), float64(turn), 0)
		}
		if n := len(g.sums); n > max(mostCells, columns) || g.rows() > mostRows {
			t.Errorf("%d columns: %d cells in %d rows", columns, n, g.rows())
		}
	}
}

func TestGridKnowsStops(t *testing.T) {
	g := NewGrid(10)
	for b := range int64(1000) {
		time := float64(b)
		if b >= 500 {
			time += hour
		}
		if b < 200 || b >= 300 { // not heard, which is no stop
			g.Add(b, time, 0)
		}
	}
	if got, want := g.breaks(), []int{50}; !slices.Equal(got, want) {
		t.Errorf("stops before rows %v, want %v", got, want)
	}
	if _, ok := g.rowAt(500 + hour/2); ok {
		t.Error("a time within the stop has a row")
	}
	if row, ok := g.rowAt(250); !ok || row != 25 {
		t.Errorf("a time in which nothing was heard lies at row %g, %t; want 25", row, ok)
	}
	if row, ok := g.rowAt(600 + hour); !ok || row != 60 {
		t.Errorf("a time after the stop lies at row %g, %t; want 60", row, ok)
	}
}

// Every cell of a strip is that of the beat that it stands for.
func TestStripsShowTheirBeats(t *testing.T) {
	g := NewGrid(3)
	for b := range int64(12) {
		if b != 4 {
			g.Add(b, float64(b), float64(b)-5)
		}
	}
	p := Map(Heading{}, g, 0, nil).Panels[0]
	p.strips = 3
	for k, strip := range p.split() {
		m := strip.rows().GridXYZ
		columns, rows := m.Dims()
		for row := range rows {
			turn := -m.Y(row) - 0.5 // counted from the top
			if int(turn)/2 != k {
				t.Errorf("strip %d holds turn %g", k, turn)
			}
			for column := range columns {
				beat, got := 3*int(turn)+column, m.Z(column, row)
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
	g := NewGrid(30)
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
		at, ok := g.column(fault.Recurrence{PeriodBeats: c.period, PhaseBeats: c.phase})
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
		"no beats in a turn":   func() { NewGrid(0) },
		"negative beat":        func() { NewGrid(3).Add(-1, 0, 0) },
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
