package chart

import (
	"fmt"
	"image/color"
	"math"

	"gonum.org/v1/plot"
	"gonum.org/v1/plot/vg"
	"gonum.org/v1/plot/vg/draw"

	"rundown/analysis/rate"
)

// mostDots is how many points a scatter takes; above it, neighbours in time
// are averaged.
const mostDots = 1500

// Isochronism draws rate against amplitude, each window coloured by its
// elapsed time: a flat cloud is an isochronous movement, a slope is not, and a
// curve that comes back on another way changed for another reason.
func Isochronism(r Run) *Figure {
	q, note := amplitude(r.Kind)
	f := newFigure("Isochronism: rate against amplitude", r.Heading)
	ps, each := pairs(r.Windows, q.pick)
	xs, ys := pairSpan(ps, q.least, func(p pair) rate.Value { return p.x }), pairSpan(ps, rates.least, func(p pair) rate.Value { return p.y })
	p := newPanel(xs, ys)
	p.bottom = valueAxis(q.label, xs.lo, xs.hi, mostTimes, q.signed)
	p.left = valueAxis(rates.label, ys.lo, ys.hi, mostValues, true)
	p.plot.Add(grid{p.bottom.ticks, p.left.ticks})
	f.rows = [][]*panel{{p}}
	time := r.time()
	f.key = &key{span: time, colours: ramp(ageAnchors, 48), axis: elapsedAxis(time.lo, time.hi, mostTimes)}
	if len(ps) == 0 {
		p.banner = "no amplitude with a rate was measured"
		if !r.heard() {
			p.banner = "no beat was heard"
		}
		return f
	}
	p.plot.Add(cloud{ps, f.key})
	f.explain(badge{draw.RingGlyph{}}, "first")
	f.explain(badge{draw.SquareGlyph{}}, "last")
	if len(ps) <= fewPoints {
		f.explain(badge{draw.PlusGlyph{}}, "± one standard error")
	}
	if each > 1 {
		f.note(fmt.Sprintf("Each point is the mean of %d windows that follow each other.", each))
	}
	if n := outside(ps, xs, ys); n > 0 {
		f.note("Off the scale, drawn as crosses at the edge: " + count(n, "point") + ".")
	}
	f.note(note)
	return f
}

// pair is two figures of the same time.
type pair struct {
	t    float64
	x, y rate.Value
}

// pairs couples amplitude and rate of the windows that have both, so many at a
// time that there are no more than mostDots.
func pairs(ws []rate.Window, pick func(rate.Window) rate.Value) (ps []pair, each int) {
	for _, w := range ws {
		if p := (pair{(w.Start + w.End) / 2, pick(w), w.Rate}); finite(p.t) && finite(p.x.X) && finite(p.y.X) {
			ps = append(ps, p)
		}
	}
	each = (len(ps) + mostDots - 1) / mostDots
	if each <= 1 {
		return ps, 1
	}
	var merged []pair
	for len(ps) > 0 {
		n := min(each, len(ps))
		merged = append(merged, meanPair(ps[:n]))
		ps = ps[n:]
	}
	return merged, each
}

// meanPair is the mean of independent pairs.
func meanPair(ps []pair) pair {
	var m pair
	for _, p := range ps {
		m.t += p.t
		m.x = rate.Value{X: m.x.X + p.x.X, SE: math.Hypot(m.x.SE, p.x.SE)}
		m.y = rate.Value{X: m.y.X + p.y.X, SE: math.Hypot(m.y.SE, p.y.SE)}
	}
	n := float64(len(ps))
	return pair{m.t / n, rate.Value{X: m.x.X / n, SE: m.x.SE / n}, rate.Value{X: m.y.X / n, SE: m.y.SE / n}}
}

// pairSpan is the range of the axis of one figure.
func pairSpan(ps []pair, least float64, pick func(pair) rate.Value) span {
	var xs, ses []float64
	for _, p := range ps {
		v := pick(p)
		if !finite(v.SE) {
			v.SE = 0
		}
		xs, ses = append(xs, v.X), append(ses, v.SE)
	}
	return robustSpan(xs, ses, least)
}

// outside is how many points the axes leave out.
func outside(ps []pair, xs, ys span) int {
	n := 0
	for _, p := range ps {
		if !xs.contains(p.x.X) || !ys.contains(p.y.X) {
			n++
		}
	}
	return n
}

// cloud draws pairs coloured by their time, with bars of a standard error
// while they are few.
type cloud struct {
	pairs []pair
	key   *key
}

// Plot implements plot.Plotter.
func (s cloud) Plot(c draw.Canvas, p *plot.Plot) {
	x, y := p.Transforms(&c)
	if len(s.pairs) <= fewPoints {
		for _, q := range s.pairs {
			bars(c, middle, [][]vg.Point{
				{{X: x(q.x.X - q.x.SE), Y: y(q.y.X)}, {X: x(q.x.X + q.x.SE), Y: y(q.y.X)}},
				{{X: x(q.x.X), Y: y(q.y.X - q.y.SE)}, {X: x(q.x.X), Y: y(q.y.X + q.y.SE)}},
			})
		}
	}
	for _, q := range s.pairs {
		at := vg.Point{X: x(q.x.X), Y: y(q.y.X)}
		mark := draw.GlyphStyle{Color: s.key.colour(q.t), Radius: 1.7, Shape: draw.CircleGlyph{}}
		if !c.Contains(at) {
			mark.Radius, mark.Shape = 2.5, draw.CrossGlyph{}
		}
		c.DrawGlyph(mark, inside(c, at))
	}
	first, last := s.pairs[0], s.pairs[len(s.pairs)-1]
	ring := draw.GlyphStyle{Color: ink, Radius: 4, Shape: draw.RingGlyph{}}
	c.DrawGlyph(ring, inside(c, vg.Point{X: x(first.x.X), Y: y(first.y.X)}))
	square := draw.GlyphStyle{Color: ink, Radius: 4, Shape: draw.SquareGlyph{}}
	c.DrawGlyph(square, inside(c, vg.Point{X: x(last.x.X), Y: y(last.y.X)}))
}

// inside moves a point that lies beyond the frame to just within its edge.
func inside(c draw.Canvas, at vg.Point) vg.Point {
	if c.Contains(at) {
		return at
	}
	const edge = 3 // points
	return vg.Point{
		X: min(max(at.X, c.Min.X+edge), c.Max.X-edge),
		Y: min(max(at.Y, c.Min.Y+edge), c.Max.Y-edge),
	}
}

// bars strokes lines as far as they lie within the frame. Those with an end
// that is not known are left out.
func bars(c draw.Canvas, ink color.Color, lines [][]vg.Point) {
	for _, l := range lines {
		if finite(float64(l[0].X+l[0].Y)) && finite(float64(l[1].X+l[1].Y)) {
			c.StrokeLines(stroke(ink, 0.5), c.ClipLinesXY(l)...)
		}
	}
}

// badge is a glyph in the legend.
type badge struct{ shape draw.GlyphDrawer }

// Thumbnail implements plot.Thumbnailer.
func (b badge) Thumbnail(c *draw.Canvas) {
	c.DrawGlyph(draw.GlyphStyle{Color: ink, Radius: 3, Shape: b.shape}, c.Center())
}
