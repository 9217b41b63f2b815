package compare

import (
	"fmt"
	"math"
	"sort"

	"rundown/analysis/rate"
	"rundown/analysis/runs"
)

// pair is a window of the run before and the place in the run after that it is
// compared with: between windows at and at+1 of it, share of the way.
type pair struct {
	before, after int
	share         float64
}

// pairs matches the windows of two runs that have the same width.
func pairs(before, after *runs.Run, by Alignment) ([]pair, error) {
	if by == Amplitude {
		return byAmplitude(before, after)
	}
	var ps []pair
	for i := range min(full(before), full(after)) {
		ps = append(ps, pair{i, i, 0})
	}
	if len(ps) < leastPairs {
		return nil, fmt.Errorf("%s and %s have too few windows in common; analyse both with a narrower --window", before.Path, after.Path)
	}
	return ps, nil
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
func byAmplitude(before, after *runs.Run) ([]pair, error) {
	if before.Kind != after.Kind || before.Kind == rate.Level {
		return nil, fmt.Errorf("--align amplitude: %s and %s have no common measure of amplitude; analyse both with --lift-angle, or align by elapsed time",
			before.Path, after.Path)
	}
	a, b := falling(before), falling(after)
	if len(a) < leastPairs || len(b) < leastPairs {
		return nil, fmt.Errorf("--align amplitude: the amplitude is not known in enough windows of %s and %s; align by elapsed time", before.Path, after.Path)
	}
	var ps []pair
	for _, x := range a {
		// The first of b that is no larger.
		k := sort.Search(len(b), func(i int) bool { return b[i].amplitude <= x.amplitude })
		if k == 0 || k == len(b) {
			continue
		}
		p := pair{x.window, b[k-1].window, 0}
		if b[k].window == p.after+1 {
			p.share = (b[k-1].amplitude - x.amplitude) / (b[k-1].amplitude - b[k].amplitude)
		}
		ps = append(ps, p)
	}
	if len(ps) < leastPairs {
		return nil, fmt.Errorf("--align amplitude: %s and %s swing to different amplitudes, or to one that does not change; align by elapsed time", before.Path, after.Path)
	}
	return ps, nil
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

// pairedSeries are a figure in both runs wherever both have it, and its difference.
type pairedSeries struct {
	before, after []float64
	difference    series
}

func pairUp(before, after *runs.Run, ps []pair, get figure) pairedSeries {
	var out pairedSeries
	for _, p := range ps {
		w := &before.Windows[p.before]
		a, b := get(w), get(&after.Windows[p.after])
		if p.share > 0 {
			b = between(b, get(&after.Windows[p.after+1]), p.share)
		}
		if known(a) && known(b) && w.Heard > 0 {
			out.before = append(out.before, a.X)
			out.after = append(out.after, b.X)
			out.difference.add((w.Start+w.End)/2, b.X-a.X, math.Hypot(a.SE, b.SE))
		}
	}
	return out
}

func between(a, b rate.Value, share float64) rate.Value {
	return rate.Value{X: a.X + share*(b.X-a.X), SE: math.Hypot((1-share)*a.SE, share*b.SE)}
}

func known(v rate.Value) bool { return !math.IsNaN(v.X) && !math.IsNaN(v.SE) }
