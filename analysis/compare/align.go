package compare

import (
	"fmt"
	"math"
	"slices"
	"sort"

	"rundown/analysis/rate"
	"rundown/analysis/runs"
	"rundown/dsp/stats"
)

// row is a window of the first run and the places in all runs, itself among
// them, that are compared with it.
type row struct {
	window int
	at     []place
}

// place is between a window of a run and the next, share of the way.
type place struct {
	window int
	share  float64
}

// match finds what is compared with what in runs of windows of one width.
func match(all []*runs.Run, by Alignment) ([]row, error) {
	if by == Amplitude {
		return byAmplitude(all)
	}
	n, shortest := math.MaxInt, all[0]
	for _, r := range all {
		if k := full(r); k < n {
			n, shortest = k, r
		}
	}
	if n < stats.LeastFigures {
		return nil, fmt.Errorf("%s has too few windows in common with the others; analyse all with a narrower --window", shortest.Path)
	}
	rows := make([]row, n)
	for i := range rows {
		rows[i] = row{i, slices.Repeat([]place{{i, 0}}, len(all))}
	}
	return rows, nil
}

// full counts the windows of a run, a shorter one at the end left out.
func full(r *runs.Run) int {
	n := len(r.Windows)
	if w := r.Windows[n-1]; w.End-w.Start < 0.999*r.Width() {
		n--
	}
	return n
}

// byAmplitude matches windows of equal amplitude. The amplitude is made to fall
// all the way, as that of a spring that runs down does.
func byAmplitude(all []*runs.Run) ([]row, error) {
	courses := make([][]swing, len(all))
	for k, r := range all {
		if r.Kind != all[0].Kind || r.Kind == rate.Level {
			return nil, fmt.Errorf("--align amplitude: %s and %s have no common measure of amplitude; analyse all with --lift-angle, or align by elapsed time",
				all[0].Path, r.Path)
		}
		if courses[k] = falling(r); len(courses[k]) < stats.LeastFigures {
			return nil, fmt.Errorf("--align amplitude: the amplitude is not known in enough windows of %s; align by elapsed time", r.Path)
		}
		if c := courses[k]; c[0].amplitude-c[len(c)-1].amplitude < plainFall*amplitudeSE(r) {
			return nil, fmt.Errorf("--align amplitude: the amplitude of %s does not change by more than its errors; align by elapsed time", r.Path)
		}
	}
	var rows []row
	for _, x := range courses[0] {
		found := row{window: x.window, at: []place{{x.window, 0}}}
		for _, course := range courses[1:] {
			if p, ok := swingingTo(course, x.amplitude); ok {
				found.at = append(found.at, p)
			}
		}
		if len(found.at) == len(all) {
			rows = append(rows, found)
		}
	}
	if len(rows) < stats.LeastFigures {
		return nil, fmt.Errorf("--align amplitude: %s and the others swing to different amplitudes, or to one that does not change; align by elapsed time", all[0].Path)
	}
	return rows, nil
}

// plainFall is by how many of its standard errors an amplitude must fall in a run for its
// windows to be told apart by it.
const plainFall = 4

// amplitudeSE is the median standard error of a run's amplitudes, 0 where none is known.
func amplitudeSE(r *runs.Run) float64 {
	var se []float64
	for _, w := range r.Windows {
		if s := w.Amplitude.SE; !math.IsNaN(s) {
			se = append(se, s)
		}
	}
	if len(se) == 0 {
		return 0
	}
	return stats.Median(se)
}

// swingingTo finds the place of an amplitude in a course that falls.
func swingingTo(course []swing, amplitude float64) (place, bool) {
	// The first that is no larger.
	k := sort.Search(len(course), func(i int) bool { return course[i].amplitude <= amplitude })
	if k == 0 || k == len(course) {
		return place{}, false
	}
	p := place{course[k-1].window, 0}
	if course[k].window == p.window+1 {
		p.share = (course[k-1].amplitude - amplitude) / (course[k-1].amplitude - course[k].amplitude)
	}
	return p, true
}

// swing is the amplitude in a window, larger meaning more.
type swing struct {
	window    int
	amplitude float64
}

// falling is the amplitude of a run as the nearest course that never rises (the
// pool-adjacent-violators algorithm; R. E. Barlow and others, Statistical
// Inference under Order Restrictions, 1972). A lift time is turned round.
func falling(r *runs.Run) []swing {
	sign := 1.0
	if r.Kind == rate.LiftTime {
		sign = -1
	}
	type pool struct{ sum, n float64 }
	var pools []pool
	var course []swing
	for i := range r.Windows[:full(r)] {
		a := r.Windows[i].Amplitude.X
		if math.IsNaN(a) {
			continue
		}
		course = append(course, swing{window: i})
		pools = append(pools, pool{sign * a, 1})
		for n := len(pools); n > 1 && pools[n-1].sum*pools[n-2].n >= pools[n-2].sum*pools[n-1].n; n-- {
			pools[n-2].sum += pools[n-1].sum
			pools[n-2].n += pools[n-1].n
			pools = pools[:n-1]
		}
	}
	i := 0
	for _, p := range pools {
		for range int(p.n) {
			course[i].amplitude = p.sum / p.n
			i++
		}
	}
	return course
}

// figure reads one of the figures of a window.
type figure func(*rate.Window) rate.Value

// columns are a figure in all runs wherever all have it, and the difference of
// the means of both states.
type columns struct {
	runs       [][]float64 // run by run
	difference stats.Series
}

func (c *comparer) columns(get figure) columns {
	out := columns{runs: make([][]float64, len(c.all))}
	for _, row := range c.rows {
		vs := make([]rate.Value, len(c.all))
		whole := true
		for k, r := range c.all {
			vs[k] = row.at[k].value(r, get)
			whole = whole && known(vs[k])
		}
		w := &c.all[0].Windows[row.window]
		if !whole || w.Heard == 0 {
			continue
		}
		var d, variance float64
		for k, v := range vs {
			share := c.share(k)
			d += share * v.X
			variance += share * share * v.SE * v.SE
			out.runs[k] = append(out.runs[k], v.X)
		}
		out.difference.Add((w.Start+w.End)/2, d, math.Sqrt(variance))
	}
	return out
}

// state is 0 of a run before the change and 1 of one after it.
func (c *comparer) state(run int) int {
	if run < c.first {
		return 0
	}
	return 1
}

// share is what a run counts for in the difference of the means.
func (c *comparer) share(run int) float64 {
	if run < c.first {
		return -1 / float64(c.first)
	}
	return 1 / float64(len(c.all)-c.first)
}

// differenceVariance is the variance of the difference of the means where that of one run is 1.
func (c *comparer) differenceVariance() float64 {
	return 1/float64(c.first) + 1/float64(len(c.all)-c.first)
}

func (p place) value(r *runs.Run, get figure) rate.Value {
	v := get(&r.Windows[p.window])
	if p.share > 0 {
		return interpolate(v, get(&r.Windows[p.window+1]), p.share)
	}
	return v
}

func interpolate(a, b rate.Value, share float64) rate.Value {
	return rate.Value{X: a.X + share*(b.X-a.X), SE: math.Hypot((1-share)*a.SE, share*b.SE)}
}

func known(v rate.Value) bool { return !math.IsNaN(v.X) && !math.IsNaN(v.SE) }
