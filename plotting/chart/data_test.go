package chart

import (
	"math"
	"testing"

	"rundown/analysis/beat"
	"rundown/analysis/rate"
)

func TestRateData(t *testing.T) {
	r := sampleRun(100, minute)
	r.Events = nil
	r.Windows[50].Rate.X = math.NaN()
	d := RateData(r, 1000)
	if d.Merged != 1 || len(d.Time) != len(d.X) || len(d.X) != len(d.SE) || len(d.X) != len(d.Smoothed) {
		t.Fatalf("%d windows in a point; lengths %d, %d, %d, %d", d.Merged, len(d.Time), len(d.X), len(d.SE), len(d.Smoothed))
	}
	breaks := 0
	for i, x := range d.X {
		if i > 0 && d.Time[i] <= d.Time[i-1] {
			t.Fatalf("time goes back at point %d", i)
		}
		if math.IsNaN(x) {
			breaks++
		}
	}
	if breaks != 2 { // in the middle and at the end
		t.Errorf("%d breaks, want 2", breaks)
	}
	if d.Time[3] != 3.5*minute || d.X[3] != r.Windows[3].Rate.X || d.Smoothed[3] != r.Windows[3].Smoothed.X {
		t.Errorf("point 3 is %v at %v s, smoothed %v", d.X[3], d.Time[3], d.Smoothed[3])
	}
}

// Thinned, neighbours are averaged, never across a stop.
func TestDataIsThinned(t *testing.T) {
	r := sampleRun(100, minute)
	r.Events = []beat.Event{{Kind: beat.Stop, Start: 30 * minute, End: 31 * minute}}
	r.Windows[30] = rate.Window{Start: 30 * minute, End: 31 * minute, BeatError: rate.Value{X: math.NaN()}}
	d := BeatErrorData(r, 10)
	if d.Merged != 10 || len(d.Time) > 15 {
		t.Fatalf("%d windows in a point, %d points", d.Merged, len(d.Time))
	}
	sum := 0.0
	for _, w := range r.Windows[:10] {
		sum += 1e3 * w.BeatError.X
	}
	if math.Abs(d.X[0]-sum/10) > 1e-12 || math.Abs(d.SE[0]-1e3*2e-5/math.Sqrt(10)) > 1e-12 || d.Time[0] != 5*minute {
		t.Errorf("first point is %v ± %v at %v s", d.X[0], d.SE[0], d.Time[0])
	}
	for i, time := range d.Time {
		if !math.IsNaN(d.X[i]) && time > 30*minute && time < 31*minute {
			t.Errorf("a point at %v s, in the stop", time)
		}
	}
}

func TestCells(t *testing.T) {
	g := NewGrid(30)
	for b := range int64(3000) {
		if b/30 == 40 {
			continue // a turn that was not heard
		}
		g.Add(b, float64(b)/5, float64(b%30)*1e-3)
	}
	for _, most := range []int{3000, 2999, 400, 1} {
		c := g.Cells(most)
		if len(c.Mean) != c.Rows*c.Columns || len(c.Start) != c.Rows || c.Rows > 1 && len(c.Mean) > most {
			t.Fatalf("at most %d: %d rows, %d cells, %d starts", most, c.Rows, len(c.Mean), len(c.Start))
		}
		if got := c.Mean[7]; math.Abs(got-7e-3) > 1e-12 {
			t.Errorf("at most %d: column 7 is %v", most, got)
		}
		if c.Merged == 1 && (!math.IsNaN(c.Mean[40*30]) || !math.IsNaN(c.Start[40])) {
			t.Error("the turn that was not heard has figures")
		}
	}
	if c := NewGrid(30).Cells(10); c.Rows != 0 {
		t.Errorf("an empty grid has %d rows", c.Rows)
	}
}
