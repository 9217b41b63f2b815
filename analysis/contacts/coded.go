package contacts

import "math"

// Coded is a sound at 16 bits a sample, in half the memory: what it rounds off lies 101 dB
// under its peak, below the room in a mean of thousands of beats.
type Coded struct {
	x    []int16
	unit float32 // of x
}

// Encode takes a sound, of finite samples, in the memory of the one before.
func (c *Coded) Encode(x []float32) {
	var most uint32 // magnitudes are in order of their bits
	for _, v := range x {
		most = max(most, math.Float32bits(v)<<1)
	}
	peak := math.Float32frombits(most >> 1)
	if len(c.x) != len(x) {
		c.x = make([]int16, len(x))
	}
	c.unit = peak / math.MaxInt16
	if peak == 0 {
		clear(c.x)
		return
	}
	by, y := 1/c.unit, c.x[:len(x)]
	for i, v := range x {
		y[i] = rounded(v * by)
	}
}

// rounded returns the nearest whole number, of at most 16 bits: where all are positive, to
// cut off is to round.
func rounded(v float32) int16 {
	const above = math.MaxInt16 + 1
	return int16(int32(v+(above+0.5)) - above)
}

// Mix makes of c, times own, and another sound as long, times part, their sum. Together, own and
// part are at most 1: so the sum fits what the louder of the two is counted in.
func (c *Coded) Mix(own float32, other *Coded, part float32) {
	unit := max(c.unit, other.unit)
	if unit == 0 {
		return
	}
	a, b := own*c.unit/unit, part*other.unit/unit
	y := other.x[:len(c.x)]
	for i, v := range c.x {
		c.x[i] = rounded(a*float32(v) + b*float32(y[i]))
	}
	c.unit = unit
}

// Decode writes the sound to dst, which is as long.
func (c *Coded) Decode(dst []float32) {
	for i, v := range c.x {
		dst[i] = c.unit * float32(v)
	}
}

// Len returns of how many samples it is.
func (c *Coded) Len() int { return len(c.x) }
