package sequence

import (
	"math"
	"slices"

	"rundown/analysis/drift"
)

// bunch is how many beats are taken together where something changes slowly
// against that.
const bunch = 64

// slow returns the slow course of values, one a beat, NaN where there is none: a
// smoothing spline through the medians of blocks, and straight lines between.
// It is NaN throughout where there are no values.
func slow(values []float64) []float64 {
	n := len(values)
	count := max(n/bunch, 1)
	mids, spread := make([]float64, count), make([]float64, 0, count)
	vars := make([]float64, count)
	buf := make([]float64, 0, 2*bunch)
	for i := range count {
		buf = buf[:0]
		for _, v := range values[i*n/count : (i+1)*n/count] {
			if !math.IsNaN(v) {
				buf = append(buf, v)
			}
		}
		mids[i], vars[i] = median(buf), 1/float64(len(buf))
		if len(buf) > 3 {
			spread = append(spread, mad(buf, mids[i]))
		}
	}
	level := median(spread)
	level *= level
	if !(level > 0) {
		level = 1e-6
	}
	for i := range vars {
		vars[i] *= 4 * level // neighbours are not independent, and a median wavers more than a mean
	}
	return stretchOut(smooth(mids, vars), n)
}

// smooth returns the likeliest course of values with the given variances, some
// of them NaN; how much its slope wanders, it finds itself.
func smooth(values, vars []float64) []drift.State {
	first := slices.IndexFunc(values, func(v float64) bool { return !math.IsNaN(v) })
	if first < 0 {
		return nil
	}
	n := len(values)
	before, after := make([]drift.State, n), make([]drift.State, n)
	unit := vars[first]
	forward := func(wander float64) float64 {
		wander *= unit
		g := drift.State{Level: values[first], LevelVar: 1e6 * unit, SlopeVar: 1e4 * unit}
		sum := 0.
		for i, v := range values {
			before[i] = g
			if !math.IsNaN(v) {
				e, total := v-g.Level, g.LevelVar+vars[i]
				sum -= (math.Log(total) + e*e/total) / 2
				g = g.Update(v, vars[i])
			}
			after[i] = g
			g = g.After(1, wander)
		}
		return sum
	}
	w := drift.ProcessNoise(-8, 2, forward)
	forward(w)
	for i := n - 2; i >= 0; i-- {
		after[i] = after[i].Back(after[i].Gain(1, before[i+1]), before[i+1], after[i+1])
	}
	return after
}

// stretchOut returns the course of n beats through the states in the middle of
// equal blocks.
func stretchOut(states []drift.State, n int) []float64 {
	out := make([]float64, n)
	m := len(states)
	if m < 2 {
		level := math.NaN()
		if m == 1 {
			level = states[0].Level
		}
		for i := range out {
			out[i] = level
		}
		return out
	}
	for i := range out {
		at := (float64(i)+0.5)*float64(m)/float64(n) - 0.5
		k := max(min(int(at), m-2), 0)
		u := at - float64(k)
		s := states[k]
		switch {
		case u < 0:
			out[i] = s.Level + u*s.Slope
		case u > 1:
			out[i] = states[k+1].Level + (u-1)*states[k+1].Slope
		default:
			out[i] = s.Level + u*(states[k+1].Level-s.Level)
		}
	}
	return out
}
