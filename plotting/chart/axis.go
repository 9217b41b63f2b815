package chart

import (
	"math"

	"gonum.org/v1/plot"
	"gonum.org/v1/plot/vg"
	"gonum.org/v1/plot/vg/draw"
)

// axis is one side of a frame: what is measured, and the ticks. The zero value
// draws nothing.
type axis struct {
	label string
	ticks []plot.Tick
}

// Measures of an axis, in points.
const (
	tickLength vg.Length = 3
	tickGap    vg.Length = 2 // between a tick and its label
	lineHeight vg.Length = 10
)

// empty reports whether there is nothing to draw.
func (a axis) empty() bool { return a.label == "" && len(a.ticks) == 0 }

// height is the room that a horizontal axis takes outside the frame.
func (a axis) height() vg.Length {
	if a.empty() {
		return 0
	}
	h := tickLength
	if a.labelled() {
		h += tickGap + lineHeight
	}
	if a.label != "" {
		h += lineHeight + 1
	}
	return h
}

// width is the room that a vertical axis takes outside the frame.
func (a axis) width() vg.Length {
	if a.empty() {
		return 0
	}
	w := tickLength + tickGap + a.widest()
	if a.label != "" {
		w += lineHeight + 3
	}
	return w
}

// labelled reports whether any tick has a label.
func (a axis) labelled() bool {
	for _, t := range a.ticks {
		if !t.IsMinor() {
			return true
		}
	}
	return false
}

// widest is the width of the longest label of a tick.
func (a axis) widest() vg.Length {
	sty := letters(textSize, ink, 0, 0)
	var w vg.Length
	for _, t := range a.ticks {
		w = max(w, sty.Width(t.Label))
	}
	return w
}

// drawHorizontal draws the axis along the frame's lower edge, or along its
// upper edge where outward is 1 instead of −1.
func (a axis) drawHorizontal(frame draw.Canvas, p *plot.Plot, outward vg.Length) {
	y, align := frame.Min.Y, draw.YTop
	if outward > 0 {
		y, align = frame.Max.Y, draw.YBottom
	}
	x, _ := p.Transforms(&frame)
	for _, t := range a.ticks {
		frame.StrokeLine2(stroke(ink, 0.5), x(t.Value), y, x(t.Value), y+outward*length(t))
		if !t.IsMinor() {
			frame.FillText(letters(textSize, ink, draw.XCenter, align), vg.Point{X: x(t.Value), Y: y + outward*(tickLength+tickGap-1)}, t.Label)
		}
	}
	if a.label != "" {
		at := vg.Point{X: frame.Center().X, Y: y + outward*(a.height()-lineHeight)}
		frame.FillText(letters(textSize, ink, draw.XCenter, align), at, a.label)
	}
}

// drawVertical draws the axis along the frame's left edge, or along its right
// edge where outward is 1 instead of −1. room is the width that the widest
// axis on that side takes, so that the labels of several frames are in line. A
// label that would cover the one before it is left out.
func (a axis) drawVertical(frame draw.Canvas, p *plot.Plot, outward, room vg.Length) {
	x, align := frame.Min.X, draw.XRight
	if outward > 0 {
		x, align = frame.Max.X, draw.XLeft
	}
	_, y := p.Transforms(&frame)
	last := frame.Max.Y + lineHeight
	for _, t := range a.ticks {
		frame.StrokeLine2(stroke(ink, 0.5), x, y(t.Value), x+outward*length(t), y(t.Value))
		if d := y(t.Value) - last; !t.IsMinor() && (d > textSize || d < -textSize) {
			last = y(t.Value)
			// The middle of a figure lies a little above that of a line of text.
			at := vg.Point{X: x + outward*(tickLength+tickGap), Y: y(t.Value) + textSize/12}
			frame.FillText(letters(textSize, ink, align, draw.YCenter), at, t.Label)
		}
	}
	if a.label != "" {
		sty := letters(textSize, ink, draw.XCenter, draw.YTop)
		sty.Rotation = math.Pi / 2
		at := vg.Point{X: x - room, Y: frame.Center().Y}
		if outward > 0 {
			at.X = x + room - lineHeight
		}
		frame.FillText(sty, at, a.label)
	}
}

// length is how far a tick sticks out.
func length(t plot.Tick) vg.Length {
	if t.IsMinor() {
		return tickLength / 2
	}
	return tickLength
}
