package beat

// tape holds the stretch of the recording that is still needed: samples of one
// channel, and the energy of its blocks in the beat's band.
type tape struct {
	block int       // frames a block
	first int64     // frame number of x[0], a multiple of block
	x     []float32 // samples
	e     []float32 // e[i] is of the block that starts at frame first + i·block
	ended bool      // the recording ends with x
}

// add appends samples and the energies of the whole blocks among them.
func (t *tape) add(x, e []float32) {
	t.x = append(t.x, x...)
	t.e = append(t.e, e...)
}

// end is the frame after the last one.
func (t *tape) end() int64 { return t.first + int64(len(t.x)) }

// forget drops whole blocks before a frame, once there are enough of them to be
// worth moving the rest.
func (t *tape) forget(before int64) {
	n := (before - t.first) / int64(t.block)
	if n <= 0 || int(n)*t.block < len(t.x)/2 {
		return
	}
	n = min(n, int64(len(t.e)))
	t.x = t.x[:copy(t.x, t.x[int(n)*t.block:])]
	t.e = t.e[:copy(t.e, t.e[n:])]
	t.first += n * int64(t.block)
}

// blocks returns the energies of the blocks from one frame to another, as far
// as they are on the tape; the caller may not keep them.
func (t *tape) blocks(from, to float64) []float32 {
	a := int((from - float64(t.first)) / float64(t.block))
	b := int((to-float64(t.first))/float64(t.block)) + 1
	a, b = max(0, min(a, len(t.e))), max(0, min(b, len(t.e)))
	if b <= a {
		return nil
	}
	return t.e[a:b]
}
