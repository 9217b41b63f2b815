package chart

import (
	"image/color"

	"gonum.org/v1/plot"
	"gonum.org/v1/plot/vg"
	"gonum.org/v1/plot/vg/draw"
)

// bracket is a dimension line above the frame, as on a drawing of a part, with
// what it measures written over it.
type bracket struct {
	span
	text string
	ink  color.Color
}

// bracketHeight is the room that one takes, in points.
const bracketHeight vg.Length = 19

// draw draws the bracket with its line at a height; a text wider than the line
// is moved inwards, so that it stays above the frame.
func (b bracket) draw(frame draw.Canvas, p *plot.Plot, y vg.Length) {
	x, _ := p.Transforms(&frame)
	left, right := max(x(b.lo), frame.Min.X), min(x(b.hi), frame.Max.X)
	b.drawLine(frame, left, right, y)
	text := letters(textSize, b.ink, draw.XCenter, draw.YBottom)
	half := text.Width(b.text) / 2
	at := min(max((left+right)/2, frame.Min.X+half), frame.Max.X-half)
	frame.FillText(text, vg.Point{X: at, Y: y + 5}, b.text)
}

// drawLine draws the dimension line at a height.
func (b bracket) drawLine(frame draw.Canvas, left, right, y vg.Length) {
	sty := stroke(b.ink, 0.6)
	frame.StrokeLine2(sty, left, y, right, y)
	for _, end := range []vg.Length{left, right} {
		frame.StrokeLine2(sty, end, y-3, end, y+3)
	}
	if right-left > 14 {
		frame.FillPolygon(b.ink, arrow(vg.Point{X: left, Y: y}, -2, 0))
		frame.FillPolygon(b.ink, arrow(vg.Point{X: right, Y: y}, 2, 0))
	}
}
