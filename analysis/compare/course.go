package compare

import (
	"math"
	"math/rand/v2"
	"slices"

	"rundown/analysis/rate"
	"rundown/analysis/runs"
	"rundown/dsp/stats"
)

// replicates is how many courses are simulated; of runs of many windows fewer,
// still enough for the verdicts on some fifteen figures.
func replicates(windows int) int {
	if windows > 5000 {
		return 399
	}
	return 999
}

// wild is the distance in standard errors from which a window was passed over.
const wild = 6

// course holds the widths and lengths of a smoothed rate.
type course [3]float64

const (
	runSpread  = iota // total width over the run, s/day
	bandSpread        // and within the stable band, NaN without one
	bandLength        // s, 0 without a band
)

func courseOf(ws []rate.Window, tolerance float64) course {
	c := course{runSpread: width(ws), bandSpread: math.NaN()}
	if b, ok := rate.StableBand(ws, tolerance); ok {
		c[bandSpread], c[bandLength] = b.Spread, b.End-b.Start
	}
	return c
}

// width is the total width of the smoothed rate.
func width(ws []rate.Window) float64 {
	low, high := math.Inf(1), math.Inf(-1)
	for i := range ws {
		if x := ws[i].Smoothed.X; !math.IsNaN(x) {
			low, high = min(low, x), max(high, x)
		}
	}
	return high - low
}

// simulation draws courses as they might have been: the smoothed rate of a run,
// with another walk and other noise of the size found in the difference of the
// two runs. Both are smoothed as the local level would have been. A window that
// smoothing took for wild and passed over is believed more or less.
type simulation struct {
	windows []rate.Window
	smooth  []float64
	aside   []float64 // by how much smoothing passed over the rate of a window
	at      []int     // windows with a rate
	errors  stats.Series
	edge    float64 // what one window more or less makes of the spread in the band
}

func newSimulation(r *runs.Run, tolerance float64) *simulation {
	s := &simulation{windows: slices.Clone(r.Windows), edge: edge(r.Windows, tolerance)}
	for i := range s.windows {
		w := &s.windows[i]
		s.smooth = append(s.smooth, w.Smoothed.X)
		off := w.Rate.X - w.Smoothed.X
		if !(math.Abs(off) > wild*w.Rate.SE) {
			off = 0
		}
		s.aside = append(s.aside, off)
		if known(w.Rate) {
			s.at = append(s.at, i)
			s.errors.Add((w.Start+w.End)/2, 0, w.Rate.SE)
		}
	}
	return s
}

// edge is by how much the spread in the stable band changes at the most where one
// window at either end of it is left out or taken in, which may hang on a hair: one
// that is taken in makes it as wide as the tolerance at the most.
func edge(ws []rate.Window, tolerance float64) float64 {
	b, ok := rate.StableBand(ws, tolerance)
	if !ok {
		return 0
	}
	most := 0.0
	for _, part := range [][2]int{{b.First + 1, b.Last}, {b.First, b.Last - 1}, {b.First - 1, b.Last}, {b.First, b.Last + 1}} {
		if part[0] >= 0 && part[1] <= len(ws) && part[1]-part[0] > 1 {
			if w := min(width(ws[part[0]:part[1]]), tolerance); !math.IsInf(w, 0) {
				most = max(most, math.Abs(w-b.Spread))
			}
		}
	}
	return most
}

// draw returns a course by a model of such a run.
func (s *simulation) draw(m stats.Level, tolerance float64, rng *rand.Rand) course {
	walk, believed := 0.0, rng.Float64()
	for k := range s.at {
		if k > 0 {
			walk += math.Sqrt(m.Walk*(s.errors.T[k]-s.errors.T[k-1])) * rng.NormFloat64()
		}
		s.errors.Y[k] = walk + math.Sqrt(m.Noise*s.errors.Variance(k))*rng.NormFloat64()
	}
	x, _ := s.errors.Smooth(m)
	ends := len(s.at)
	if rng.Float64() < 0.5 {
		ends-- // whether a last, steep window is long enough to have a rate is chance
	}
	for k, i := range s.at {
		s.windows[i].Smoothed.X = s.smooth[i] + x[k] + believed*s.aside[i]
	}
	c := courseOf(s.windows, tolerance)
	if rng.Float64() < 0.5 {
		c[bandSpread] += s.edge
	}
	if ends > 0 {
		c[runSpread] = width(s.windows[:s.at[ends-1]+1])
	}
	return c
}

// compareCourses returns for each figure the half-width of the 95 % interval of
// its difference, and the probability of a difference as large as the one
// found. The seed is fixed: the same runs give the same figures.
func (c *comparer) compareCourses(found course) (half, p course) {
	simulations := make([]*simulation, len(c.all))
	for k, r := range c.all {
		simulations[k] = newSimulation(r, c.tolerance)
	}
	models := c.shared()
	rng := rand.New(rand.NewPCG(1657, 2))
	window := c.all[0].Width()
	var drawn [len(found)][]float64
	n := replicates(len(c.all[0].Windows))
	for range n {
		m := stats.Pick(models, rng.Float64())
		var d course
		for k, s := range simulations {
			x := s.draw(m, c.tolerance, rng)
			// A band begins and ends somewhere within a window.
			x[bandLength] += window * (rng.Float64() - rng.Float64())
			for i := range d {
				d[i] += c.share(k) * x[i]
			}
		}
		for k := range drawn {
			if !math.IsNaN(d[k]) {
				drawn[k] = append(drawn[k], d[k])
			}
		}
	}
	for k, ds := range drawn {
		if len(ds) > n/2 {
			half[k], p[k] = about(ds, found[k])
		} else {
			half[k], p[k] = math.NaN(), math.NaN()
		}
	}
	return half, p
}

// about returns the half-width that holds 95 % of what was drawn, about its
// median, and the share of it that lies as far off as x.
func about(drawn []float64, x float64) (half, p float64) {
	if math.IsNaN(x) {
		return math.NaN(), math.NaN()
	}
	middle := stats.Median(drawn)
	further := 1.0
	for i, d := range drawn {
		drawn[i] = math.Abs(d - middle)
		if drawn[i] >= math.Abs(x) {
			further++
		}
	}
	slices.Sort(drawn)
	return drawn[len(drawn)*95/100], further / float64(len(drawn)+1)
}
