package chart

import (
	"math"
	"math/rand/v2"
	"testing"

	"rundown/analysis/beat"
	"rundown/analysis/rate"
)

// shape lists the times of a curve, stretch by stretch.
func shape(c curve) [][]float64 {
	var all [][]float64
	s := c.series("", ink)
	s.stretches(func(first, last int) { all = append(all, s.X[first:last]) })
	return all
}

// A curve breaks where there is no figure, and where a stop comes between two.
func TestCurveBreaks(t *testing.T) {
	xs := []float64{1, nan, 1, 1, 1, inf, nan, 1, 1}
	stop := func(from, to float64) beat.Event {
		return beat.Event{Kind: beat.Stop, Start: minute * from, End: minute * to}
	}
	for _, c := range []struct {
		name  string
		stops []beat.Event
		want  [][]float64 // middles of windows, min
	}{
		{"no stops", nil, [][]float64{{0.5}, {2.5, 3.5, 4.5}, {7.5, 8.5}}},
		{"between two windows", []beat.Event{stop(3.9, 4.1)}, [][]float64{{0.5}, {2.5, 3.45}, {4.55}, {7.5, 8.5}}},
		{"where it is broken anyway", []beat.Event{stop(1.2, 1.5)}, [][]float64{{0.5}, {2.5, 3.5, 4.5}, {7.5, 8.5}}},
		{"after the end", []beat.Event{stop(9, 10)}, [][]float64{{0.5}, {2.5, 3.5, 4.5}, {7.5, 8.5}}},
		{"two", []beat.Event{stop(2.9, 3), stop(8, 8.1)}, [][]float64{{0.5}, {2.45}, {3.5, 4.5}, {7.5}, {8.55}}},
	} {
		r := plainRun(xs...)
		r.Events = c.stops
		r.Windows[3].Rate.SE = nan
		got := r.curve(rates.pick)
		for _, stretch := range c.want {
			for i := range stretch {
				stretch[i] *= minute
			}
		}
		if !equalShape(shape(got), c.want) {
			t.Errorf("%s: %v, want %v", c.name, shape(got), c.want)
		}
		for _, p := range got {
			if !finite(p.se) || !finite(p.t) {
				t.Errorf("%s: standard error %g at %g s", c.name, p.se, p.t)
			}
		}
	}
}

// A window in which the movement stopped has its figure where it ran.
func TestCurveOfAWindowWithAStop(t *testing.T) {
	stop := func(from, to float64) beat.Event { return beat.Event{Kind: beat.Stop, Start: from, End: to} }
	for _, c := range []struct {
		name  string
		stops []beat.Event
		want  [][]float64
	}{
		{"none", nil, [][]float64{{30, 90, 150}}},
		{"until the end", []beat.Event{stop(80, 999)}, [][]float64{{30, 70}, {150}}},
		{"across an edge", []beat.Event{stop(100, 140)}, [][]float64{{30, 80}, {160}}},
		{"within a window", []beat.Event{stop(70, 80)}, [][]float64{{30}, {100, 150}}},
		{"twice in a window", []beat.Event{stop(65, 70), stop(110, 115)}, [][]float64{{30}, {90}, {150}}},
	} {
		r := plainRun(1, 2, 3)
		r.Events = c.stops
		if got := shape(r.curve(rates.pick)); !equalShape(got, c.want) {
			t.Errorf("%s: %v, want %v", c.name, got, c.want)
		}
	}
}

// Too many windows are averaged with their neighbours, never across a stop, and
// the errors fall as they must.
func TestCurveIsThinned(t *testing.T) {
	const windows = 4*mostPoints - 3
	r := sampleRun(windows, minute)
	r.Events = []beat.Event{{Kind: beat.Stop, Start: 30 * minute, End: 31 * minute}}
	r.Windows[30].BeatError.X = nan
	if r.merged() != 4 {
		t.Fatalf("%d windows in a point", r.merged())
	}
	c := r.curve(func(w rate.Window) rate.Value { return w.BeatError })
	if n := len(c); n > mostPoints+4 {
		t.Errorf("%d points", n)
	}
	sum := 0.0
	for _, w := range r.Windows[:4] {
		sum += w.BeatError.X
	}
	if math.Abs(c[0].x-sum/4) > 1e-12 || math.Abs(c[0].se-1e-5) > 1e-12 || c[0].t != 2*minute {
		t.Errorf("first point is %v ± %v at %v s", c[0].x, c[0].se, c[0].t)
	}
	for i, p := range c {
		if i > 0 && p.t <= c[i-1].t {
			t.Fatalf("time goes back at point %d", i)
		}
		if finite(p.x) && p.t > 30*minute && p.t < 31*minute {
			t.Errorf("a point at %v s, in the stop", p.t)
		}
	}
}

func equalShape(a, b [][]float64) bool {
	if len(a) != len(b) {
		return false
	}
	for i := range a {
		if len(a[i]) != len(b[i]) {
			return false
		}
		for j := range a[i] {
			if a[i][j] != b[i][j] {
				return false
			}
		}
	}
	return true
}

func TestRobustSpan(t *testing.T) {
	flat := func(n int, wild ...float64) (xs, ses []float64) {
		rng := rand.New(rand.NewPCG(4, 4))
		for range n {
			xs, ses = append(xs, 5+0.3*rng.NormFloat64()), append(ses, 0.3)
		}
		for _, w := range wild {
			xs, ses = append(xs, w), append(ses, 0.3)
		}
		return xs, ses
	}
	for _, c := range []struct {
		name   string
		n      int
		wild   []float64
		lo, hi float64 // the range lies within
	}{
		{"calm", 500, nil, 3, 7},
		{"one wild window", 500, []float64{1e6}, 3, 8},
		{"a twentieth wild", 95, []float64{400, 500, -600, 700}, 1, 9},
		{"few windows, one wild", 6, []float64{-900}, 2, 8},
	} {
		xs, ses := flat(c.n, c.wild...)
		got := robustSpan(xs, ses, 1)
		if got.lo < c.lo || got.hi > c.hi || got.width() < 1 {
			t.Errorf("%s: %v, want within %g to %g", c.name, got, c.lo, c.hi)
		}
	}
}

// Nothing is cut off a slope, a wave, a step or a handful of ordinary values.
func TestRobustSpanKeepsShapes(t *testing.T) {
	shapes := map[string]func(u float64) float64{
		"slope": func(u float64) float64 { return 100 * u },
		"wave":  func(u float64) float64 { return math.Sin(20 * u) },
		"step":  func(u float64) float64 { return math.Round(u) },
	}
	for name, f := range shapes {
		for _, n := range []int{1, 2, 3, 5, 10, 100, 1000} {
			xs, ses := make([]float64, n), make([]float64, n)
			for i := range xs {
				xs[i] = f(float64(i) / float64(n))
			}
			r := robustSpan(xs, ses, 1e-3)
			for _, x := range xs {
				if !r.contains(x) {
					t.Errorf("%s of %d: %g lies outside %v", name, n, x, r)
				}
			}
		}
	}
}

func TestRobustSpanIsNotNarrowerThanLeast(t *testing.T) {
	for _, xs := range [][]float64{nil, {5}, {5, 5}, {5, 5, 5, 5}} {
		if r := robustSpan(xs, make([]float64, len(xs)), 2); r.width() < 2 || r.width() > 3 {
			t.Errorf("%v: %v", xs, r)
		}
	}
	if r := robustSpan([]float64{5}, []float64{0}, 2); r.clamp(5) != 5 || math.Abs(r.lo+r.hi-10) > 1e-9 {
		t.Errorf("one value of 5: %v is not about it", r)
	}
}

// Where the band matters most it takes up a fifth of the height, and no more
// than a tenth of the windows fall out on either side.
func TestBandIsNotSquashed(t *testing.T) {
	r := sampleRun(480, 60)
	r.Events = nil
	c := r.curve(rates.pick)
	values := rates.span(c, r.smoothed(), r.Band)
	edges := bandEdges(r.Band, r.smoothed())
	if share := edges.width() / values.width(); share < 0.1 {
		t.Errorf("the smoothed band takes up %.2f of the height", share)
	}
	beyond := 0
	for _, p := range c.known() {
		if !values.contains(p.x) {
			beyond++
		}
	}
	if beyond > 97 {
		t.Errorf("%d of 480 windows off the scale", beyond)
	}
}
