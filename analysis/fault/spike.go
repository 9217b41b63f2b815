package fault

import (
	"math"
	"slices"
)

// spikeSigmas is how far, in standard deviations, a beat must stand out from
// its neighbours to count as displaced on its own. Noise does that once in a
// billion beats.
const spikeSigmas = 6

// findSpikes returns the indices of the beats of x that stand out from the beats
// of the same side before and after.
func findSpikes(x []float64) []int {
	excess := func(i int) float64 {
		return math.Abs(excess(len(x), i, func(k int) float64 { return x[k] }))
	}
	limits := sideSpread(x)
	var list []int
	for i := range x {
		// A spike shows at its neighbours as well, half as high.
		if e := excess(i); e > spikeSigmas*limits[i%2] && !(e < excess(i-2)) && !(e < excess(i+2)) {
			list = append(list, i)
		}
	}
	return list
}

// addSpikes keeps the beats with the given indices, counted from beat from of the
// run on, with their excess.
func (r *run) addSpikes(list []int, from int) {
	for _, i := range list {
		if len(r.spikes) < maxEvents {
			r.spikes = append(r.spikes, occurrence{int64(from + i), excess(r.fine.n, from+i, r.fine.at)})
		}
	}
}

// sideSpread is the scatter of either side of x about its neighbours, seconds.
func sideSpread(x []float64) (sigma [2]float64) {
	for side := range sigma {
		sigma[side] = robustSD(x, side, func(i int) float64 {
			return excess(len(x), i, func(k int) float64 { return x[k] })
		})
	}
	return sigma
}

// excess is by how many seconds value i of n exceeds its neighbours of the same
// side; NaN where one of them is missing.
func excess(n, i int, at func(int) float64) float64 {
	if i < 2 || i+2 >= n {
		return math.NaN()
	}
	return at(i) - (at(i-2)+at(i+2))/2
}

// spikeSize is by how much, in seconds, a beat is typically displaced at the
// phases of a recurrence of spikes. If it is at most of them, all count, those
// too that don't stand out; else the spikes alone.
func (r *run) spikeSize(f recurring) float64 {
	var all []float64
	for _, phase := range f.phases {
		for at := phase; at < float64(r.fine.n); at += f.period {
			if e := excess(r.fine.n, int(math.Round(at)), r.fine.at); !math.IsNaN(e) {
				all = append(all, e)
			}
		}
	}
	spike := f.medianShift()
	if len(all) > 0 {
		slices.Sort(all)
		if m := all[len(all)/2]; math.Abs(m) > math.Abs(spike)/2 {
			spike = m
		}
	}
	return math.Abs(spike)
}

// robustSD is the standard deviation of f over the indices of one side of x, judged
// by its median size, so that rare large values don't count. Not more than some
// ten thousand evenly spaced ones are looked at.
func robustSD(x []float64, side int, f func(int) float64) float64 {
	const enough, medianSize = 1 << 14, 0.6745 // of a Gaussian's standard deviation
	var sizes []float64
	for i := side; i < len(x); i += 2 * (len(x)/(2*enough) + 1) {
		if v := math.Abs(f(i)); !math.IsNaN(v) {
			sizes = append(sizes, v)
		}
	}
	if len(sizes) == 0 {
		return math.Inf(1)
	}
	slices.Sort(sizes)
	return sizes[len(sizes)/2] / medianSize
}
