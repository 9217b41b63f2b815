package chart

import (
	"math"
	"math/rand/v2"
	"testing"

	"rundown/analysis/beat"
)

// shape lists the times of a series, stretch by stretch.
func shape(s series) [][]float64 {
	var all [][]float64
	for _, stretch := range s {
		var ts []float64
		for _, p := range stretch {
			ts = append(ts, p.t)
		}
		all = append(all, ts)
	}
	return all
}

func TestSplit(t *testing.T) {
	ps := []point{{0, 1, 0}, {1, nan, 0}, {2, 1, 0}, {3, 1, nan}, {4, 1, 0}, {5, inf, 0}, {nan, 1, 0}, {7, 1, 0}, {8, 1, 0}}
	stop := func(from, to float64) beat.Event { return beat.Event{Kind: beat.Stop, Start: from, End: to} }
	for _, c := range []struct {
		name  string
		stops []beat.Event
		want  [][]float64
	}{
		{"no stops", nil, [][]float64{{0}, {2, 3, 4}, {7, 8}}},
		{"between two points", []beat.Event{stop(3.2, 3.4)}, [][]float64{{0}, {2, 3}, {4}, {7, 8}}},
		{"over a point", []beat.Event{stop(2.5, 3.5)}, [][]float64{{0}, {2}, {3}, {4}, {7, 8}}},
		{"where it is broken anyway", []beat.Event{stop(0.5, 1.5)}, [][]float64{{0}, {2, 3, 4}, {7, 8}}},
		{"after the end", []beat.Event{stop(9, 10)}, [][]float64{{0}, {2, 3, 4}, {7, 8}}},
		{"two", []beat.Event{stop(2.1, 2.2), stop(7.5, 7.6)}, [][]float64{{0}, {2}, {3, 4}, {7}, {8}}},
	} {
		got := split(ps, c.stops)
		if !equalShape(shape(got), c.want) {
			t.Errorf("%s: %v, want %v", c.name, shape(got), c.want)
		}
		for _, stretch := range got {
			for _, p := range stretch {
				if !finite(p.se) {
					t.Errorf("%s: standard error %g", c.name, p.se)
				}
			}
		}
	}
}

// A window in which the movement stopped has its figure where it ran.
func TestFiguresOfAWindowWithAStop(t *testing.T) {
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
		s := figures(plainRun(1, 2, 3).Windows, rates.pick, c.stops)
		if got := shape(s); !equalShape(got, c.want) {
			t.Errorf("%s: %v, want %v", c.name, got, c.want)
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

// Thinning keeps the extremes of every column, their order, and few points.
func TestThin(t *testing.T) {
	rng := rand.New(rand.NewPCG(1, 1))
	ps := make([]point, 144000)
	for i := range ps {
		ps[i] = point{t: float64(i) * 0.2, x: rng.NormFloat64()}
	}
	ps[77777].x = 50
	ps[99999].x = -50
	const columns = 1400
	width := ps[len(ps)-1].t / columns
	got := thin(ps, width)
	if len(got) > 2*(columns+1) {
		t.Errorf("%d points for %d columns", len(got), columns)
	}
	least, most := 0.0, 0.0
	for i, p := range got {
		least, most = min(least, p.x), max(most, p.x)
		if i > 0 && p.t <= got[i-1].t {
			t.Fatal("not in order of time")
		}
	}
	if most != 50 || least != -50 {
		t.Errorf("from %g to %g, want -50 to 50", least, most)
	}
	if few := thin(ps[:5], 0.1); len(few) != 5 {
		t.Errorf("%d of 5 points left", len(few))
	}
}

func TestMeans(t *testing.T) {
	got := means([]point{{0, 1, 3}, {0.5, 3, 4}, {2, 7, 1}}, 1)
	want := []point{{0.25, 2, math.Sqrt(12.5)}, {2, 7, 1}}
	if len(got) != 2 || got[0] != want[0] || got[1] != want[1] {
		t.Errorf("%v, want %v", got, want)
	}
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
	s := figures(r.Windows, rates.pick, nil)
	values := rates.span(s, r.smoothed(), r.Band)
	edges := bandEdges(r.Band, r.smoothed())
	if share := edges.width() / values.width(); share < 0.1 {
		t.Errorf("the smoothed band takes up %.2f of the height", share)
	}
	above, below := s.beyond(values)
	if len(above) > 48 || len(below) > 49 {
		t.Errorf("%d windows above and %d below", len(above), len(below))
	}
}
