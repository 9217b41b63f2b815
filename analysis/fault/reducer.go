package fault

import "math"

// reducer averages neighbouring beats, so that a run of many segments fits into
// one. Tick and tock count alike, whatever number of each was heard.
type reducer struct {
	step   int // beats per average, even
	values []float64
	block  int
	sum    [2]float64
	count  [2]int
}

func newReducer(fine series) *reducer {
	step := (fine.segments() + 1) / 2 * 2
	return &reducer{step: step}
}

// add takes the values from index from on, NaN where they are not known.
func (r *reducer) add(x []float64, from int) {
	for i, v := range x {
		i += from
		if i/r.step != r.block {
			r.finish()
			r.block = i / r.step
		}
		if !math.IsNaN(v) {
			r.sum[i%2] += v
			r.count[i%2]++
		}
	}
}

// finish ends a block.
func (r *reducer) finish() {
	mean := (r.sum[0]/float64(r.count[0]) + r.sum[1]/float64(r.count[1])) / 2 // NaN where a side is missing
	r.values = append(r.values, mean)
	r.sum, r.count = [2]float64{}, [2]int{}
}

// series returns the averages, freed from their trend. The last one, which may
// be of fewer beats, is left out.
func (r *reducer) series() series {
	flatten(r.values, nil, 1)
	s := series{n: len(r.values), offset: float64(r.step-1) / 2, step: r.step, sides: 1}
	for i, v := range r.values {
		if i%chunkBeats == 0 {
			s.chunks = append(s.chunks, make([]float32, 0, min(chunkBeats, len(r.values)-i)))
		}
		last := &s.chunks[len(s.chunks)-1]
		*last = append(*last, float32(v))
	}
	return s
}
