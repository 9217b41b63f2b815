// Package filter holds the one filter that every sample of a recording passes:
// a band-pass, followed by the energy of short blocks.
package filter

import (
	"fmt"
	"math"
)

// Band is a second-order band-pass, gain 1 at its centre, as the bilinear
// transform of s/(s² + s/Q + 1) gives it. It keeps no state, so one Band may
// serve several goroutines.
type Band struct {
	Centre float64 // frequency of unit gain, Hz
	Q      float64 // Centre over the width between the half-power points
	Rate   float64 // sample rate, Hz

	b0, a1, a2 float32
}

// NewBand returns the band-pass about centre with quality q at a sample rate,
// both frequencies in Hz. It panics unless 0 < centre < rate/2 and q > 0.
func NewBand(centre, q, rate float64) *Band {
	if !(centre > 0 && centre < rate/2 && q > 0) {
		panic(fmt.Sprintf("filter: no band of Q %g about %g Hz at a sample rate of %g Hz", q, centre, rate))
	}
	w := 2 * math.Pi * centre / rate
	alpha := math.Sin(w) / (2 * q)
	a0 := 1 + alpha
	return &Band{
		Centre: centre, Q: q, Rate: rate,
		b0: float32(alpha / a0),
		a1: float32(-2 * math.Cos(w) / a0),
		a2: float32((1 - alpha) / a0),
	}
}

// Warmup is how many frames before a stretch the filter must see for its
// output in the stretch to be free, to 1 part in 1000 of full scale, of what
// came before them.
func (b *Band) Warmup() int {
	// The poles are the roots of z² + a1·z + a2; ln(1000) = 6.9.
	radius := math.Sqrt(math.Abs(float64(b.a2)))
	if d := float64(b.a1)*float64(b.a1)/4 - float64(b.a2); d > 0 {
		radius = math.Abs(float64(b.a1))/2 + math.Sqrt(d)
	}
	return int(math.Ceil(6.9/-math.Log(radius))) + 2
}

// Filter returns x, taken to begin at rest, filtered.
func (b *Band) Filter(x []float32) []float32 {
	var x1, x2, y1, y2 float32
	out := make([]float32, len(x))
	for i, v := range x {
		y := b.b0*(v-x2) - b.a1*y1 - b.a2*y2
		x2, x1, y2, y1 = x1, v, y1, y
		out[i] = y
	}
	return out
}

// lanes is how many stretches Energies filters in step. A recursive filter
// waits for its own last output; four that don't wait for each other keep the
// processor busy.
const lanes = 4

// Energies appends to dst the mean square of the filtered signal in each block
// of the given length, and returns it. x starts Warmup frames before the first
// block, and holds a whole number of blocks after them. The result depends on
// how x is cut into calls only within the warm-up's accuracy; callers that need
// the same bytes every time cut at the same frames.
//
// Output lags the input by the filter's group delay, about Q/(π·Centre)
// seconds at the centre.
func (b *Band) Energies(dst []float32, x []float32, block int) []float32 {
	warm := b.Warmup()
	n := (len(x) - warm) / block
	if n < 0 || warm+n*block != len(x) {
		panic(fmt.Sprintf("filter: %d frames are not a warm-up of %d and whole blocks of %d", len(x), warm, block))
	}
	at := len(dst)
	for range n {
		dst = append(dst, 0)
	}
	out := dst[at:]
	per := n / lanes
	if per > 0 {
		b.fourLanes(out, x, block, per)
	}
	if done := per * lanes; done < n {
		b.oneLane(out[done:], x[done*block:], block)
	}
	return dst
}

// BlockFrames is how many frames make a block, about a millisecond.
func BlockFrames(rate float64) int { return max(1, int(rate/1000+0.5)) }

// Blocks returns the energies of all whole blocks of x, before which there is
// silence.
func (b *Band) Blocks(x []float32, block int) []float32 {
	whole, warm := len(x)/block, b.Warmup()
	// The first blocks have too little before them for the filter to warm up on.
	short := min(whole, (warm+block-1)/block)
	padded := make([]float32, warm+short*block)
	copy(padded[warm:], x)
	out := b.Energies(make([]float32, 0, whole), padded, block)
	if short < whole {
		out = b.Energies(out, x[short*block-warm:whole*block], block)
	}
	return out
}

// oneLane filters x from rest and stores the blocks that follow the warm-up.
func (b *Band) oneLane(out, x []float32, block int) {
	b0, a1, a2 := b.b0, b.a1, b.a2
	var x1, x2, y1, y2 float32
	warm := len(x) - len(out)*block
	for _, v := range x[:warm] {
		y := b0*(v-x2) - a1*y1 - a2*y2
		x2, x1, y2, y1 = x1, v, y1, y
	}
	x = x[warm:]
	scale := 1 / float32(block)
	for k := range out {
		var sum float32
		for _, v := range x[k*block : (k+1)*block] {
			y := b0*(v-x2) - a1*y1 - a2*y2
			x2, x1, y2, y1 = x1, v, y1, y
			sum += y * y
		}
		out[k] = sum * scale
		y1, y2 = flushDenormals(y1, y2)
	}
}

// flushDenormals returns the state of the filter, or silence once it has died away to
// 300 dB below full scale: numbers that are all but zero take a processor a
// hundred times as long as others, and digital silence would end in such.
func flushDenormals(y1, y2 float32) (float32, float32) {
	const silent = 1e-15
	if y1 < silent && y1 > -silent && y2 < silent && y2 > -silent {
		return 0, 0
	}
	return y1, y2
}

// fourLanes does what oneLane does for four stretches of per blocks each, that
// follow each other in x, each warmed up on the end of the one before.
func (b *Band) fourLanes(out, x []float32, block, per int) {
	warm := b.Warmup()
	span := warm + per*block
	xa := x[:span]
	xb := x[per*block:][:span]
	xc := x[2*per*block:][:span]
	xd := x[3*per*block:][:span]
	b0, a1, a2 := b.b0, b.a1, b.a2
	var ax1, ax2, ay1, ay2 float32
	var bx1, bx2, by1, by2 float32
	var cx1, cx2, cy1, cy2 float32
	var dx1, dx2, dy1, dy2 float32
	scale := 1 / float32(block)
	end := warm
	for i, k := 0, -1; k < per; k++ {
		var as, bs, cs, ds float32
		for ; i < end; i++ {
			va, vb, vc, vd := xa[i], xb[i], xc[i], xd[i]
			ya := b0*(va-ax2) - a1*ay1 - a2*ay2
			yb := b0*(vb-bx2) - a1*by1 - a2*by2
			yc := b0*(vc-cx2) - a1*cy1 - a2*cy2
			yd := b0*(vd-dx2) - a1*dy1 - a2*dy2
			ax2, ax1, ay2, ay1 = ax1, va, ay1, ya
			bx2, bx1, by2, by1 = bx1, vb, by1, yb
			cx2, cx1, cy2, cy1 = cx1, vc, cy1, yc
			dx2, dx1, dy2, dy1 = dx1, vd, dy1, yd
			as += ya * ya
			bs += yb * yb
			cs += yc * yc
			ds += yd * yd
		}
		if k >= 0 {
			out[k] = as * scale
			out[per+k] = bs * scale
			out[2*per+k] = cs * scale
			out[3*per+k] = ds * scale
		}
		ay1, ay2 = flushDenormals(ay1, ay2)
		by1, by2 = flushDenormals(by1, by2)
		cy1, cy2 = flushDenormals(cy1, cy2)
		dy1, dy2 = flushDenormals(dy1, dy2)
		end += block
	}
}
