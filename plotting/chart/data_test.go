package chart

import (
	"encoding/json"
	"math"
	"slices"
	"strings"
	"testing"

	"gonum.org/v1/plot/plotter"
)

func TestNumbersInJSON(t *testing.T) {
	got, err := json.Marshal(Series{X: Numbers{0, 1e-12}, Y: Numbers{400.00123456789, math.NaN()}, High: Numbers{math.Inf(1), -2}, Ink: Ink{1, 2, 255, 128}})
	if want := `{"x":[0,1e-12],"y":[400.001235,null],"high":[null,-2],"ink":"#0102ff80"}`; err != nil || string(got) != want {
		t.Errorf("%s, %v; want %s", got, err, want)
	}
}

// What is drawn on a screen is what is drawn in the picture.
func TestFiguresInJSON(t *testing.T) {
	for name, f := range awkwardFigures() {
		text, err := json.Marshal(f)
		if err != nil {
			t.Errorf("%s: %v", name, err)
		}
		var back struct {
			Panels []struct {
				X, Y struct {
					Low, High float64
					Ticks     []struct{ Label string }
				}
				Series []struct{ X, Y []*float64 }
			}
		}
		if err := json.Unmarshal(text, &back); err != nil {
			t.Fatalf("%s: %v", name, err)
		}
		for i, p := range back.Panels {
			if p.X.Low >= p.X.High || p.Y.Low >= p.Y.High {
				t.Errorf("%s: panel %d runs from %g to %g and from %g to %g", name, i, p.X.Low, p.X.High, p.Y.Low, p.Y.High)
			}
			for k, s := range p.Series {
				if len(s.X) != len(s.Y) || slices.Contains(s.X, nil) {
					t.Errorf("%s: series %d has %d places and %d values", name, k, len(s.X), len(s.Y))
				}
			}
		}
	}
}

// Every series has as many bounds as points, and those that are lines are in
// order.
func TestSeriesAreWhole(t *testing.T) {
	for name, f := range awkwardFigures() {
		for _, p := range f.Panels {
			for _, s := range p.Series {
				n := len(s.X)
				if len(s.Y) != n || s.Low != nil && (len(s.Low) != n || len(s.High) != n) || s.Shade != nil && len(s.Shade) != n {
					t.Errorf("%s: %q has %d places, %d values, %d and %d bounds", name, s.Name, n, len(s.Y), len(s.Low), len(s.High))
				}
				if s.Width > 0 && s.Band != nil && !slices.IsSorted(s.X) {
					t.Errorf("%s: %q goes back", name, s.Name)
				}
				if strings.Contains(s.Name, "NaN") {
					t.Errorf("%s: %q", name, s.Name)
				}
			}
		}
	}
}

// A ribbon goes out along the lower bounds and comes back along the upper ones.
func TestRibbon(t *testing.T) {
	s := curve{{0, 1, 0.5}, {1, 2, 0.5}, {2, nan, 0}, {3, 5, 1}, {4, 6, 1}}.bounded("", ink, 2, OneError)
	s.Band = &pale
	var outlines [][]plotter.XY
	s.stretches(func(first, last int) {
		outlines = append(outlines, s.ribbon(first, last).(*plotter.Polygon).XYs[0])
	})
	want := [][]plotter.XY{{{X: 0, Y: 0}, {X: 1, Y: 1}, {X: 1, Y: 3}, {X: 0, Y: 2}}, {{X: 3, Y: 3}, {X: 4, Y: 4}, {X: 4, Y: 8}, {X: 3, Y: 7}}}
	if len(outlines) != 2 || !slices.Equal(outlines[0], want[0]) || !slices.Equal(outlines[1], want[1]) {
		t.Errorf("%v, want %v", outlines, want)
	}
}
