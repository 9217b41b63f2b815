package onset

import "slices"

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
		slices.Sort(scratch)
		cells = append(cells, scratch[len(scratch)/3])
	}
	around := make([]float32, 0, 2*reach+1)
	for c := range cells {
		around = append(around[:0], cells[max(0, c-reach):min(len(cells), c+reach+1)]...)
		slices.Sort(around)
		f := around[len(around)/2]
		for range min(cell, len(e)-c*cell) {
			dst = append(dst, f)
		}
	}
	return dst
}
