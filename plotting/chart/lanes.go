package chart

import (
	"image/color"

	"gonum.org/v1/plot"
	"gonum.org/v1/plot/vg"
	"gonum.org/v1/plot/vg/draw"

	"rundown/analysis/beat"
)

// laneHeight is the height of one lane, laneRadius the size of a mark in it.
const (
	laneHeight vg.Length = 11
	laneRadius vg.Length = 2.6
)

// lanes is a panel with one lane for each kind of event that occurred, nil
// where nothing did.
func lanes(events []beat.Event, time span) *panel {
	var rows []lane
	for _, kind := range beat.Kinds {
		if some := of(events, kind); len(some) > 0 {
			rows = append(rows, lane{kind, some})
		}
	}
	if len(rows) == 0 {
		return nil
	}
	n := float64(len(rows))
	p := newPanel(time, span{0, n})
	p.height = vg.Length(n)*laneHeight + 2
	for i, l := range rows {
		at := n - float64(i) - 0.5
		p.left.ticks = append(p.left.ticks, plot.Tick{Value: at, Label: string(l.kind) + " " + grouped(float64(len(l.events)))})
		p.plot.Add(marks{l, at})
	}
	return p
}

// unlabelled leaves a tick its place, and takes its label away.
func unlabelled(ticks []plot.Tick) []plot.Tick {
	bare := make([]plot.Tick, len(ticks))
	for i, t := range ticks {
		bare[i].Value = t.Value
	}
	return bare
}

// lane holds the events of one kind, in order of time.
type lane struct {
	kind   beat.Kind
	events []beat.Event
}

// marks draws a lane at a height: a mark where each event begins, and a line
// for as long as it lasts. Stops have their times beside them where there is
// room.
type marks struct {
	lane
	at float64
}

// Plot implements plot.Plotter. Marks that would cover each other are drawn
// once.
func (m marks) Plot(c draw.Canvas, p *plot.Plot) {
	x, y := p.Transforms(&c)
	at := y(m.at)
	last := c.Min.X - vg.Inch
	for _, e := range m.events {
		from, to := x(e.Start), min(x(e.End), c.Max.X)
		if m.lasts() && to-from > laneRadius {
			c.StrokeLine2(stroke(ink, 1.2), from, at, to, at)
		}
		if from-last < laneRadius/2 || from > c.Max.X {
			continue
		}
		glyph(m.kind).DrawGlyph(&c, draw.GlyphStyle{Color: ink, Radius: laneRadius}, vg.Point{X: from, Y: at})
		last = from
	}
	if m.kind == beat.Stop {
		m.writeTimes(c, p, at)
	}
}

// lasts reports whether events of the kind have a length that matters.
func (l lane) lasts() bool {
	return l.kind != beat.Late && l.kind != beat.Early && l.kind != beat.Extra
}

// writeTimes writes when the movement stopped, and when it went on, to the
// right of a stop or else to its left; where neither side has room, nothing.
func (m marks) writeTimes(c draw.Canvas, p *plot.Plot, at vg.Length) {
	x, _ := p.Transforms(&c)
	sty := letters(smallSize, ink, draw.XLeft, draw.YCenter)
	free := c.Min.X // from here to the next mark
	for i, e := range m.events {
		from, to := x(e.Start)-2*laneRadius, max(x(e.End), x(e.Start)+laneRadius)+laneRadius
		next := c.Max.X
		if i+1 < len(m.events) {
			next = x(m.events[i+1].Start) - 2*laneRadius
		}
		before := free
		free = to
		for _, text := range stopTexts(e, p.X.Max) {
			width := sty.Width(text)
			if to+width < next {
				c.FillText(sty, vg.Point{X: to, Y: at + textSize/12}, text)
				free = to + width
				break
			}
			if from-width > before {
				c.FillText(sty, vg.Point{X: from - width, Y: at + textSize/12}, text)
				break
			}
		}
	}
}

// stopTexts says when the movement stopped and went on again, at length and in
// short, in a run of a total length.
func stopTexts(e beat.Event, total float64) []string {
	short := moment(e.Start, total)
	if e.End >= total {
		return []string{short}
	}
	return []string{short + " to " + moment(e.End, total), short}
}

// glyph is the mark of a kind of event; all differ in shape.
func glyph(kind beat.Kind) draw.GlyphDrawer {
	switch kind {
	case beat.Late:
		return pointer{1, rust}
	case beat.Early:
		return pointer{-1, dark}
	case beat.Missed:
		return draw.RingGlyph{}
	case beat.Extra:
		return draw.PlusGlyph{}
	case beat.Stop:
		return draw.BoxGlyph{}
	case beat.Masked:
		return draw.SquareGlyph{}
	}
	return draw.CrossGlyph{}
}

// pointer is a filled triangle that points forwards or, with −1, backwards.
type pointer struct {
	way vg.Length
	ink color.Color
}

// DrawGlyph implements draw.GlyphDrawer.
func (t pointer) DrawGlyph(c *draw.Canvas, sty draw.GlyphStyle, at vg.Point) {
	tip := vg.Point{X: at.X + t.way*sty.Radius, Y: at.Y}
	c.FillPolygon(t.ink, arrow(tip, t.way*sty.Radius, 0))
}
