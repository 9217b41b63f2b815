package fault

import (
	"math"
	"slices"
)

// run is a run that is over.
type run struct {
	fine     series       // every beat
	coarse   series       // averages of neighbouring beats, where the run has several segments, else empty
	spikes   []occurrence // beats displaced on their own, counted from the first one
	cuts     []int        // indices of the beats next to a displacement, ascending
	interval float64      // mean seconds from beat to beat; 0 where not known
}

// finish ends the run on its first call. It turns the steps of x into
// deviations from the trend, in the same memory.
func (c *Collector) finish() *run {
	if c.done != nil {
		return c.done
	}
	r := &run{fine: series{chunks: c.steps, n: int(c.n), step: 1, sides: 2}}
	if c.endBeat > c.startBeat {
		r.interval = (c.end - c.start) / float64(c.endBeat-c.startBeat)
	}
	mean := newReducer(r.fine)
	buf := make([]float64, r.fine.length())
	last := 0.0
	for k := range r.fine.segments() {
		from, to := r.fine.segment(k)
		x := buf[:to-from]
		r.fine.read(x, from)
		last = sum(x, last)
		if r.fine.segments() > 1 {
			mean.add(x, from)
		}
		r.keep(x, from)
	}
	r.coarse = mean.series()
	r.cuts = c.nextToCuts()
	r.spikes = slices.DeleteFunc(r.spikes, r.nextToCut)
	r.fine.masked = r.masked()
	c.done = r
	return r
}

// sum puts the running sum of steps in their place, beginning with the sum of
// those before, and returns it. NaN stays.
func sum(steps []float64, before float64) float64 {
	for i, d := range steps {
		if !math.IsNaN(d) {
			before += d
			steps[i] = before
		}
	}
	return before
}

// keep stores a segment of beat times, which begins with value from, freed from
// its trend, and notes what stands out in it.
func (r *run) keep(x []float64, from int) {
	flatten(x, nil, 2)
	spikes := findSpikes(x)
	if len(spikes) > 0 {
		flatten(x, spikes, 2)
	}
	for i, v := range x {
		r.fine.set(from+i, v)
	}
	r.fine.doubled = max(r.fine.doubled, imbalance(sideSpread(x)))
	r.addSpikes(spikes, from)
}

// imbalance is the square of the correlation between the noise at f and at 0.5-f
// cycles per beat, given the scatter of both sides.
func imbalance(sigma [2]float64) float64 {
	a, b := sigma[0]*sigma[0], sigma[1]*sigma[1]
	if c := (a - b) / (a + b); !math.IsNaN(c) {
		return c * c
	}
	return 0
}

// nextToCuts lists the beats next to a displacement, which may belong to either
// side of it.
func (c *Collector) nextToCuts() []int {
	var list []int
	for _, cut := range c.cuts {
		for at := cut - c.first - 1; at <= cut-c.first+1; at++ {
			if at >= 0 && at < c.n {
				list = append(list, int(at))
			}
		}
	}
	slices.Sort(list)
	return slices.Compact(list)
}

// nextToCut reports whether a spike may be a displacement that is put down to a
// neighbouring beat.
func (r *run) nextToCut(s occurrence) bool {
	_, hit := slices.BinarySearch(r.cuts, int(s.beat))
	return hit
}

// masked lists the beats that say nothing about regular unevenness: those next
// to a displacement, and those that stand out alone.
func (r *run) masked() []int {
	list := slices.Clone(r.cuts)
	for _, s := range r.spikes {
		list = append(list, int(s.beat))
	}
	slices.Sort(list)
	return slices.Compact(list)
}
