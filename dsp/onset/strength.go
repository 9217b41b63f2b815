package onset

import (
	"math"
	"slices"
)

// Strength appends to dst how suddenly the sound sets in at each block of the
// envelope e, and returns it. e holds mean squares of blocks, cadence to each
// other 1/perSecond s; the strength of block m is
//
//	max(0, ln((e[m] + e[m+1] + 2f) / (b + b + 2f)) )
//
// where b is the mean of the lookback blocks before m and f the loudness of the
// room about that time: natural units, 0 in steady sound whatever its loudness
// or its ringing on. Where the recording is digital silence, it is 0.
func Strength(dst, e []float32, perSecond float64) []float32 {
	return StrengthAbove(dst, e, Floor(nil, e, perSecond), perSecond)
}

// StrengthAbove is Strength where the room's loudness at each block is known: as
// many values as e has.
func StrengthAbove(dst, e, floor []float32, perSecond float64) []float32 {
	lookback := max(2, int(0.010*perSecond))
	at := len(dst)
	dst = slices.Grow(dst, len(e))[:at+len(e)]
	out := dst[at:]
	var sum float64
	for m := range e {
		out[m] = 0
		if m >= lookback {
			next := e[m]
			if m+1 < len(e) {
				next = e[m+1]
			}
			f := float64(floor[m])
			before := max(sum, 0)/float64(lookback) + f
			now := 0.5*float64(e[m]+next) + f
			if now > before && before > 0 {
				out[m] = float32(math.Log(now / before))
			}
			sum -= float64(e[m-lookback])
		}
		sum += float64(e[m])
	}
	return dst
}

// Floor appends to dst the loudness of the room at each block of the envelope
// e (mean squares, perSecond of them a second): in cells of a quarter of a
// second, what a third of the blocks stay below, and of those the median over
// the two seconds either side. Beats fill less than a third of such a cell, a
// slammed door less than half of four seconds; neither raises the floor, while
// a passing lorry or rain does.
func Floor(dst, e []float32, perSecond float64) []float32 {
	const reach = 8 // cells either side
	cell := max(4, int(perSecond/4))
	cells := make([]float32, 0, len(e)/cell+1)
	scratch := make([]float32, 0, cell)
	for at := 0; at < len(e); at += cell {
		scratch = append(scratch[:0], e[at:min(at+cell, len(e))]...)
		cells = append(cells, smallest(scratch, len(scratch)/3))
	}
	around := make([]float32, 0, 2*reach+1)
	for c := range cells {
		around = append(around[:0], cells[max(0, c-reach):min(len(cells), c+reach+1)]...)
		f := smallest(around, len(around)/2)
		for range min(cell, len(e)-c*cell) {
			dst = append(dst, f)
		}
	}
	return dst
}

// smallest returns the value of x that k others stay below, and leaves x in
// another order (C. A. R. Hoare, Algorithm 65: Find, Communications of the ACM
// 4, 1961, 321).
func smallest(x []float32, k int) float32 {
	for lo, hi := 0, len(x)-1; lo < hi; {
		pivot := x[k]
		i, j := lo, hi
		for i <= j {
			for x[i] < pivot {
				i++
			}
			for pivot < x[j] {
				j--
			}
			if i <= j {
				x[i], x[j] = x[j], x[i]
				i++
				j--
			}
		}
		if j < k {
			lo = i
		}
		if k < i {
			hi = j
		}
	}
	return x[k]
}
