package chart

import (
	"image/color"

	"gonum.org/v1/plot"
	"gonum.org/v1/plot/vg"
	"gonum.org/v1/plot/vg/draw"
)

// pixel is the width of one dot of the picture.
const pixel = vg.Inch / dpi

// piece is how many points of a long line are stroked or filled at a time: the
// rasteriser's work grows with the square of the crossings in a row of dots.
const piece = 64

// dash is half of the dash that is drawn for a stretch of one point.
var dash = vg.Point{X: 2.5}

// line draws a series as unbroken lines, and a stretch of one point as a dash.
type line struct {
	series
	draw.LineStyle
	// means draws the mean of each column of dots, instead of all that the
	// points in it do.
	means bool
	// rings sets a ring on the line at every so many points of its width,
	// which tells it from another in grey; 0 sets none.
	rings vg.Length
}

// Plot implements plot.Plotter.
func (l line) Plot(c draw.Canvas, p *plot.Plot) {
	x, y := p.Transforms(&c)
	width := secondsPerDot(c, p)
	for _, stretch := range l.series {
		if l.means {
			stretch = means(stretch, width)
		} else {
			stretch = thin(stretch, width)
		}
		pts := make([]vg.Point, len(stretch))
		for i, q := range stretch {
			pts[i] = vg.Point{X: x(q.t), Y: y(q.x)}
		}
		if len(pts) == 1 {
			pts = []vg.Point{pts[0].Sub(dash), pts[0].Add(dash)}
		}
		for _, part := range c.ClipLinesXY(pts) {
			for len(part) > piece {
				c.StrokeLines(l.LineStyle, part[:piece])
				part = part[piece-2:] // the last join once more, so that it has no notch
			}
			c.StrokeLines(l.LineStyle, part)
		}
		l.drawRings(c, pts)
	}
}

// drawRings sets the rings along a stretch.
func (l line) drawRings(c draw.Canvas, pts []vg.Point) {
	if l.rings == 0 {
		return
	}
	next := c.Min.X + l.rings/2
	for _, at := range pts {
		if at.X < next {
			continue
		}
		l.ring(c, at)
		next = at.X + l.rings
	}
}

// ring draws one.
func (l line) ring(c draw.Canvas, at vg.Point) {
	c.DrawGlyph(draw.GlyphStyle{Color: l.Color, Radius: 2.4, Shape: draw.CircleGlyph{}}, at)
	c.DrawGlyph(draw.GlyphStyle{Color: color.White, Radius: 1.5, Shape: draw.CircleGlyph{}}, at)
}

// Thumbnail implements plot.Thumbnailer.
func (l line) Thumbnail(c *draw.Canvas) {
	c.StrokeLine2(l.LineStyle, c.Min.X, c.Center().Y, c.Max.X, c.Center().Y)
	if l.rings > 0 {
		l.ring(*c, c.Center())
	}
}

// ribbon fills a series' figures ± so many standard errors.
type ribbon struct {
	series
	errors float64 // how many of them
	ink    color.Color
}

// Plot implements plot.Plotter.
func (r ribbon) Plot(c draw.Canvas, p *plot.Plot) {
	x, y := p.Transforms(&c)
	width := secondsPerDot(c, p)
	for _, stretch := range r.series {
		stretch = means(stretch, width)
		for len(stretch) > 1 {
			part := stretch[:min(piece, len(stretch))]
			outline := make([]vg.Point, 2*len(part))
			for i, q := range part {
				at := dot(x(q.t)) // so that no seam shows between two parts
				outline[i] = vg.Point{X: at, Y: y(q.x + r.errors*q.se)}
				outline[len(outline)-1-i] = vg.Point{X: at, Y: y(q.x - r.errors*q.se)}
			}
			c.FillPolygon(r.ink, c.ClipPolygonXY(outline))
			if len(part) == len(stretch) {
				break
			}
			stretch = stretch[piece-1:]
		}
	}
}

// Thumbnail implements plot.Thumbnailer.
func (r ribbon) Thumbnail(c *draw.Canvas) { fillBox(c, r.ink) }

// dots draws a series as points with bars of ± so many standard errors.
type dots struct {
	series
	errors float64
	ink    color.Color
	radius vg.Length
	hollow bool
}

// Plot implements plot.Plotter.
func (d dots) Plot(c draw.Canvas, p *plot.Plot) {
	x, y := p.Transforms(&c)
	for _, stretch := range d.series {
		for _, q := range stretch {
			bar := []vg.Point{{X: x(q.t), Y: y(q.x - d.errors*q.se)}, {X: x(q.t), Y: y(q.x + d.errors*q.se)}}
			c.StrokeLines(stroke(d.ink, 0.5), c.ClipLinesXY(bar)...)
			if at := (vg.Point{X: x(q.t), Y: y(q.x)}); c.Contains(at) {
				d.mark(c, at)
			}
		}
	}
}

// Thumbnail implements plot.Thumbnailer.
func (d dots) Thumbnail(c *draw.Canvas) {
	at := c.Center()
	c.StrokeLine2(stroke(d.ink, 0.5), at.X, c.Min.Y, at.X, c.Max.Y)
	d.mark(*c, at)
}

// mark draws one point.
func (d dots) mark(c draw.Canvas, at vg.Point) {
	c.DrawGlyph(draw.GlyphStyle{Color: d.ink, Radius: d.radius, Shape: draw.CircleGlyph{}}, at)
	if d.hollow {
		c.DrawGlyph(draw.GlyphStyle{Color: color.White, Radius: d.radius - 0.7, Shape: draw.CircleGlyph{}}, at)
	}
}

// strays marks points beyond the axis by triangles at its edge.
type strays struct {
	above, below []point
	ink          color.Color
}

// strayRadius is the size of a triangle at the edge.
const strayRadius vg.Length = 2.4

// Plot implements plot.Plotter.
func (s strays) Plot(c draw.Canvas, p *plot.Plot) {
	x, _ := p.Transforms(&c)
	mark := func(ps []point, y, towards vg.Length) {
		last := c.Min.X - vg.Inch
		for _, q := range ps {
			if at := x(q.t); at-last >= 2.5*strayRadius {
				c.FillPolygon(s.ink, arrow(vg.Point{X: at, Y: y}, 0, towards*strayRadius))
				last = at
			}
		}
	}
	mark(s.above, c.Max.Y-1, 1)
	mark(s.below, c.Min.Y+1, -1)
}

// arrow is a triangle with its tip at a point, pointing along (dx, dy), whose
// length is half its height.
func arrow(tip vg.Point, dx, dy vg.Length) []vg.Point {
	foot := vg.Point{X: tip.X - 2*dx, Y: tip.Y - 2*dy}
	return []vg.Point{tip, {X: foot.X + dy, Y: foot.Y - dx}, {X: foot.X - dy, Y: foot.Y + dx}}
}

// secondsPerDot is the length of the x axis that one dot of the picture shows.
func secondsPerDot(c draw.Canvas, p *plot.Plot) float64 {
	return (p.X.Max - p.X.Min) / float64((c.Max.X-c.Min.X)/pixel)
}
