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
