package chart

import (
	"image/color"

	"gonum.org/v1/plot"
	"gonum.org/v1/plot/vg"
	"gonum.org/v1/plot/vg/draw"
)

// stripes shades stretches of the x axis over the whole height of the frame.
type stripes struct {
	spans []span
	ink   color.Color
	hatch bool // adds slanted lines
}

// Plot implements plot.Plotter. A stretch too short to see is drawn one dot
// wide, and those that share a dot are drawn once.
func (s stripes) Plot(c draw.Canvas, p *plot.Plot) {
	x, _ := p.Transforms(&c)
	drawn := c.Min.X - pixel
	for _, r := range s.spans {
		left, right := max(x(r.lo), c.Min.X), min(x(r.hi), c.Max.X)
		right = max(right, left+pixel)
		if left > c.Max.X || right <= drawn+pixel/2 {
			continue
		}
		drawn = right
		box := draw.Canvas{Canvas: c.Canvas, Rectangle: vg.Rectangle{
			Min: vg.Point{X: left, Y: c.Min.Y}, Max: vg.Point{X: right, Y: c.Max.Y}}}
		s.Thumbnail(&box)
	}
}

// Thumbnail implements plot.Thumbnailer.
func (s stripes) Thumbnail(c *draw.Canvas) {
	fillBox(c, s.ink)
	if !s.hatch {
		return
	}
	const apart = 4 // points
	height := c.Max.Y - c.Min.Y
	for x := c.Min.X - height; x < c.Max.X; x += apart {
		slant := []vg.Point{{X: x, Y: c.Min.Y}, {X: x + height, Y: c.Max.Y}}
		c.StrokeLines(stroke(muted, 0.4), c.ClipLinesXY(slant)...)
	}
}

// grid draws the lines of the ticks with labels, and zero more strongly.
type grid struct{ x, y []plot.Tick }

// Plot implements plot.Plotter.
func (g grid) Plot(c draw.Canvas, p *plot.Plot) {
	x, y := p.Transforms(&c)
	for _, t := range g.x {
		if !t.IsMinor() {
			c.StrokeLine2(stroke(rule, 0.4), x(t.Value), c.Min.Y, x(t.Value), c.Max.Y)
		}
	}
	for _, t := range g.y {
		if !t.IsMinor() {
			sty := stroke(rule, 0.4)
			if t.Value == 0 {
				sty = stroke(muted, 0.5)
			}
			c.StrokeLine2(sty, c.Min.X, y(t.Value), c.Max.X, y(t.Value))
		}
	}
}

// edges draws dashed lines along the top and the bottom of a stretch.
type edges struct{ x, y span }

// Plot implements plot.Plotter.
func (e edges) Plot(c draw.Canvas, p *plot.Plot) {
	x, y := p.Transforms(&c)
	sty := stroke(ink, 0.6)
	sty.Dashes = []vg.Length{4, 2}
	for _, at := range []float64{e.y.lo, e.y.hi} {
		c.StrokeLines(sty, c.ClipLinesXY([]vg.Point{{X: x(e.x.lo), Y: y(at)}, {X: x(e.x.hi), Y: y(at)}})...)
	}
}
