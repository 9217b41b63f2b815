package chart

import (
	"image/color"

	"gonum.org/v1/plot"
	"gonum.org/v1/plot/plotter"
	"gonum.org/v1/plot/vg"
	"gonum.org/v1/plot/vg/draw"
)

// within hides from a plot how far a plotter reaches: our axes have their
// ranges, and leave room for everything in them.
type within struct{ plot.Plotter }

// layers collects what a panel draws and what its legend shows.
type layers struct {
	back, front []plot.Plotter
	legend      []plot.Legend
}

// explain adds an entry to the legend; one without a name adds nothing.
func (l *layers) explain(name string, swatches ...plot.Thumbnailer) {
	if name == "" {
		return
	}
	entry := plot.NewLegend()
	entry.TextStyle = letters(textSize, ink, draw.XLeft, draw.YBottom)
	entry.ThumbnailWidth, entry.Top, entry.Left = 16, true, true
	entry.Add(cut(name, entry.TextStyle, textWidth-24), swatches...)
	l.legend = append(l.legend, entry)
}

// layers turns what a panel shows into plotters of the library.
func (p *Panel) layers() *layers {
	l := &layers{}
	if p.Heat != nil {
		l.back = append(l.back, p.rows())
	}
	for _, a := range p.Areas {
		fill := &plotter.Polygon{Color: a.Ink}
		for _, b := range a.Boxes {
			fill.XYs = append(fill.XYs, plotter.XYs{{X: b[0], Y: b[1]}, {X: b[2], Y: b[1]}, {X: b[2], Y: b[3]}, {X: b[0], Y: b[3]}})
		}
		l.back = append(l.back, fill)
		l.explain(a.Name, fill)
	}
	for i := range p.Series {
		l.series(p, &p.Series[i])
	}
	if p.Lanes {
		l.legend = nil // the axis names them
	}
	if len(p.Labels) > 0 {
		l.front = append(l.front, texts(p.Labels, 0))
	}
	return l
}

// series adds a series: its band at the back, bars, lines and marks in front.
func (l *layers) series(p *Panel, s *Series) {
	var swatches []plot.Thumbnailer
	if s.Band != nil {
		band := &plotter.Polygon{Color: *s.Band}
		s.stretches(func(first, last int) { l.back = append(l.back, s.ribbon(first, last)) })
		swatches = append(swatches, band)
	} else if s.Low != nil || s.XError != nil {
		l.front = append(l.front, s.bars(p)...)
	}
	if s.Width > 0 {
		sty, dash := stroke(s.Ink, s.Width, s.Dash...), p.X.span().width()/200
		if s.Mark != "" {
			dash = 0
		}
		s.stretches(func(first, last int) {
			for first < last {
				// The rasteriser's work grows with the square of the crossings in a
				// row of dots: long lines go in pieces, which share a join.
				end := min(first+piece, last)
				l.front = append(l.front, &plotter.Line{XYs: s.points(first, end, dash), LineStyle: sty})
				if end == last {
					break
				}
				first = end - 2
			}
		})
		swatches = append(swatches, &plotter.Line{LineStyle: sty})
	}
	if s.Mark != "" && s.Size > 0 {
		marks := s.marks(p)
		l.front = append(l.front, marks)
		swatches = append(swatches, &plotter.Scatter{GlyphStyle: marks.GlyphStyle})
	}
	if s.Strays {
		l.front = append(l.front, s.strays(p)...)
	}
	name := s.Name
	if name != "" && s.Bounds != "" {
		name += ", " + s.Bounds
	}
	l.explain(name, swatches...)
}

// piece is how many points of a long line are stroked at a time.
const piece = 64

// points are those of a range without breaks. A single point becomes a dash of
// twice a length, so that it shows.
func (s *Series) points(first, last int, dash float64) plotter.XYs {
	if last-first == 1 {
		return plotter.XYs{{X: s.X[first] - dash, Y: s.Y[first]}, {X: s.X[first] + dash, Y: s.Y[first]}}
	}
	xys := make(plotter.XYs, last-first)
	for i := range xys {
		xys[i].X, xys[i].Y = s.X[first+i], s.Y[first+i]
	}
	return xys
}

// ribbon is the band of a range of points.
func (s *Series) ribbon(first, last int) plot.Plotter {
	var outline plotter.XYs
	for i := first; i < last; i++ {
		outline = append(outline, plotter.XY{X: s.X[i], Y: s.Low[i]})
	}
	for i := last - 1; i >= first; i-- {
		outline = append(outline, plotter.XY{X: s.X[i], Y: s.High[i]})
	}
	return &plotter.Polygon{XYs: []plotter.XYs{outline}, Color: *s.Band}
}

// bars are the bounds of the points that lie in the panel, and their errors
// along the axis of X.
func (s *Series) bars(p *Panel) []plot.Plotter {
	y := &plotter.YErrorBars{LineStyle: stroke(s.Ink, 0.5)}
	x := &plotter.XErrorBars{LineStyle: stroke(s.Ink, 0.5)}
	for i, v := range s.Y {
		if !finite(v) || !p.X.span().contains(s.X[i]) {
			continue
		}
		at := plotter.XY{X: s.X[i], Y: v}
		if s.Low != nil && s.High[i] > p.Y.Low && s.Low[i] < p.Y.High {
			y.XYs = append(y.XYs, at)
			y.YErrors = append(y.YErrors, struct{ Low, High float64 }{v - s.Low[i], s.High[i] - v})
		}
		if s.XError != nil && p.Y.span().contains(v) {
			x.XYs = append(x.XYs, at)
			x.XErrors = append(x.XErrors, struct{ Low, High float64 }{s.XError[i], s.XError[i]})
		}
	}
	return []plot.Plotter{y, x}
}

// marks are the points that lie in the panel.
func (s *Series) marks(p *Panel) *plotter.Scatter {
	sc := &plotter.Scatter{GlyphStyle: draw.GlyphStyle{Color: s.Ink, Radius: vg.Length(s.Size), Shape: glyph(s.Mark)}}
	var inks []color.Color
	for i, v := range s.Y {
		if finite(v) && p.Y.span().contains(v) && p.X.span().contains(s.X[i]) {
			sc.XYs = append(sc.XYs, plotter.XY{X: s.X[i], Y: v})
			if s.Shade != nil {
				inks = append(inks, p.colour(s.Shade[i]))
			}
		}
	}
	if s.Shade != nil {
		sc.GlyphStyleFunc = func(i int) draw.GlyphStyle {
			sty := sc.GlyphStyle
			sty.Color = inks[i]
			return sty
		}
	}
	return sc
}

// colour is that of a value by the panel's key; values beyond it take its ends.
func (p *Panel) colour(v float64) Ink {
	n := len(p.colours)
	at := (p.Keyed.span().clamp(v) - p.Keyed.Low) / p.Keyed.span().width()
	return p.colours[min(int(at*float64(n)), n-1)]
}

// strays marks the points above and below the panel by triangles at its edge.
func (s *Series) strays(p *Panel) []plot.Plotter {
	const radius = 2.4
	mark := func(shape Mark, at float64, offset vg.Length, beyond func(v float64) bool) plot.Plotter {
		sc := &plotter.Scatter{GlyphStyle: draw.GlyphStyle{Color: rust, Radius: radius, Shape: edged{glyph(shape), offset}}}
		last := p.X.Low - p.X.span().width()
		for i, v := range s.Y {
			if beyond(v) && s.X[i]-last >= p.X.span().width()/100 {
				sc.XYs = append(sc.XYs, plotter.XY{X: s.X[i], Y: at})
				last = s.X[i]
			}
		}
		return sc
	}
	return []plot.Plotter{
		mark(Up, p.Y.High, -radius-1, func(v float64) bool { return v > p.Y.High }),
		mark(Down, p.Y.Low, radius+1, func(v float64) bool { return v < p.Y.Low }),
	}
}

// edged draws a mark at so many points above its place.
type edged struct {
	draw.GlyphDrawer
	offset vg.Length
}

// DrawGlyph implements draw.GlyphDrawer.
func (e edged) DrawGlyph(c *draw.Canvas, sty draw.GlyphStyle, at vg.Point) {
	e.GlyphDrawer.DrawGlyph(c, sty, vg.Point{X: at.X, Y: at.Y + e.offset})
}

// texts writes labels about their places, and so many points above.
func texts(labels []Label, above vg.Length) plot.Plotter {
	l := &plotter.Labels{Offset: vg.Point{Y: above}}
	for _, one := range labels {
		l.XYs = append(l.XYs, plotter.XY{X: one.X, Y: one.Y})
		l.Labels = append(l.Labels, one.Text)
		l.TextStyle = append(l.TextStyle, letters(smallSize, ink, draw.XCenter, draw.YCenter))
	}
	return l
}

// plot is the panel as a plot of the library, without its further scales.
func (p *Panel) plot(l *layers) *plot.Plot {
	x, y := p.X, p.Y
	out := themed(x, y)
	out.Title.Text = p.Title
	for _, b := range l.back {
		out.Add(within{b})
	}
	if !p.bare {
		out.Add(&plotter.Grid{Vertical: stroke(rule, 0.4), Horizontal: stroke(rule, 0.4)})
	}
	for _, f := range l.front {
		out.Add(within{f})
	}
	if p.Banner != "" {
		out.Add(within{texts([]Label{{(x.Low + x.High) / 2, (y.Low + y.High) / 2, p.Banner}}, 0)})
	}
	out.Add(framed{})
	return out
}

// framed draws the frame around a plot.
type framed struct{}

// Plot implements plot.Plotter.
func (framed) Plot(c draw.Canvas, _ *plot.Plot) {
	c.StrokeLines(stroke(ink, 2*pixel.Points()), []vg.Point{c.Min, {X: c.Max.X, Y: c.Min.Y}, c.Max, {X: c.Min.X, Y: c.Max.Y}, c.Min, {X: c.Max.X, Y: c.Min.Y}})
}

// lone is a plot of a second scale alone: along x, or with upright, along y.
func lone(a Axis, upright bool) *plot.Plot {
	none := Axis{Low: 0, High: 1}
	if upright {
		p := themed(none, a)
		p.HideX()
		p.Y.LineStyle = stroke(ink, 0.5)
		return p
	}
	p := themed(a, none)
	p.HideY()
	p.X.LineStyle = stroke(ink, 0.5)
	return p
}
