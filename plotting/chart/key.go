package chart

import (
	"image/color"

	"gonum.org/v1/plot/vg"
	"gonum.org/v1/plot/vg/draw"
)

// key says which colour means what.
type key struct {
	span
	colours []color.RGBA // from lo to hi, evenly spaced
	axis    axis
}

// keyBar is the width of the bar of colours, in points.
const keyBar vg.Length = 9

// colour is that of a value; values beyond the key take its ends.
func (k *key) colour(v float64) color.RGBA {
	return k.colours[k.index(v)]
}

// index is the position among the colours of a value.
func (k *key) index(v float64) int {
	n := len(k.colours)
	at := (k.clamp(v) - k.lo) / k.span.width()
	return min(int(at*float64(n)), n-1)
}

// room is the room that the key takes.
func (k *key) room() vg.Length { return keyBar + k.axis.width() }

// draw draws the key along the right edge of a canvas.
func (k *key) draw(c draw.Canvas) {
	c.Min.X = c.Max.X - k.room()
	c.Max.X = c.Min.X + keyBar
	n := vg.Length(len(k.colours))
	height := (c.Max.Y - c.Min.Y) / n
	for i, ink := range k.colours {
		// Each box reaches to the top, so that no seam shows between them.
		box := c
		box.Min.Y = dot(c.Min.Y + vg.Length(i)*height)
		fillBox(&box, ink)
	}
	p := newPanel(span{0, 1}, k.span)
	p.right = k.axis
	p.draw(c, 0, k.axis.width())
}
