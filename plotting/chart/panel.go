package chart

import (
	"gonum.org/v1/plot"
	"gonum.org/v1/plot/vg"
	"gonum.org/v1/plot/vg/draw"
)

// panel is one framed plot and what stands around it.
type panel struct {
	plot                     *plot.Plot // scales, and all that lies within the frame
	left, right, bottom, top axis
	brackets                 []bracket // above the frame, from the top down
	pins                     []pin     // along the frame's upper edge
	banner                   string    // written across an empty frame
	height                   vg.Length // of the frame; 0 takes what is left
}

// newPanel returns a panel of the given ranges with nothing in it.
func newPanel(x, y span) *panel {
	p := plot.New()
	p.HideAxes() // drawn by axis, outside the frame
	p.X.Padding, p.Y.Padding = 0, 0
	p.BackgroundColor = nil
	p.X.Min, p.X.Max, p.Y.Min, p.Y.Max = x.lo, x.hi, y.lo, y.hi
	return &panel{plot: p}
}

// above is the room taken over the frame.
func (p *panel) above() vg.Length {
	h := p.top.height() + vg.Length(len(p.brackets))*bracketHeight
	if len(p.pins) > 0 {
		h += pinHeight
	}
	return h
}

// below is the room taken under the frame.
func (p *panel) below() vg.Length { return p.bottom.height() }

// draw draws the panel around the frame. left and right are the widths of the
// axes at the sides of the column of panels that this one is in.
func (p *panel) draw(frame draw.Canvas, left, right vg.Length) {
	p.plot.Draw(frame)
	outline := []vg.Point{frame.Min, {X: frame.Max.X, Y: frame.Min.Y}, frame.Max, {X: frame.Min.X, Y: frame.Max.Y}, frame.Min, {X: frame.Max.X, Y: frame.Min.Y}}
	frame.StrokeLines(stroke(ink, 2*pixel), outline)
	p.bottom.drawHorizontal(frame, p.plot, -1)
	p.top.drawHorizontal(frame, p.plot, 1)
	p.left.drawVertical(frame, p.plot, -1, left)
	p.right.drawVertical(frame, p.plot, 1, right)
	drawPins(frame, p.plot, p.pins)
	y := frame.Max.Y + p.above()
	for _, b := range p.brackets {
		y -= bracketHeight
		b.draw(frame, p.plot, y+4)
	}
	if p.banner != "" {
		frame.FillText(letters(titleSize, muted, draw.XCenter, draw.YCenter), frame.Center(), p.banner)
	}
}
