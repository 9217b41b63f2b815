package fault

import (
	"math"
	"sort"
)

// series holds deviations of beat times, evenly spaced in beat number, freed
// from their trend. Value i belongs to beat offset + i·step, counted from the first
// beat of the run.
type series struct {
	chunks [][]float32 // seconds, NaN where not known; all chunkBeats long but the last
	n      int         // values
	offset float64     // beats
	step   int         // beats per value
	sides  int         // 2 where neighbouring values belong to tick and tock, else 1
	// doubled is how far noise at a frequency f comes again at 0.5-f because one
	// side is noisier than the other: from 0, both alike, to 1.
	doubled float64
	masked  []int // ascending indices of values that a search leaves out
}

// at returns value i, in seconds.
func (s *series) at(i int) float64 {
	return float64(s.chunks[i/chunkBeats][i%chunkBeats])
}

func (s *series) set(i int, x float64) {
	s.chunks[i/chunkBeats][i%chunkBeats] = float32(x)
}

const (
	// wholeLength is the longest series that is transformed in one piece: 14
	// hours at 18 000 beats an hour.
	wholeLength = 1 << 18
	// partLength is the greatest length of the pieces of a longer one, which
	// bounds memory.
	partLength = 1 << 17
)

// segments is the number of equal parts into which a series is divided to be
// transformed.
func (s *series) segments() int {
	if s.n <= wholeLength {
		return 1
	}
	return (s.n + partLength - 1) / partLength
}

// segment returns the half-open range of values of part k.
func (s *series) segment(k int) (from, to int) {
	return k * s.n / s.segments(), (k + 1) * s.n / s.segments()
}

// length is that of the longest segment.
func (s *series) length() int {
	parts := max(1, s.segments())
	return (s.n + parts - 1) / parts
}

// read copies the values from index from on to dst, with NaN for those masked.
func (s *series) read(dst []float64, from int) {
	for i := range dst {
		dst[i] = s.at(from + i)
	}
	k := sort.SearchInts(s.masked, from)
	for ; k < len(s.masked) && s.masked[k] < from+len(dst); k++ {
		dst[s.masked[k]-from] = math.NaN()
	}
}

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
