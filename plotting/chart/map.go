package chart

import (
	"fmt"
	"image"
	"image/color"
	"math"
	"slices"

	"gonum.org/v1/plot"
	"gonum.org/v1/plot/vg"
	"gonum.org/v1/plot/vg/draw"

	"rundown/analysis/fault"
)

// Measures of a map.
const (
	shortRows            = 250 // rows that a figure of the usual height shows well
	stripRows            = 800 // rows in one strip of a page
	mostStrips           = 6
	pageHeight vg.Length = 640 // points
)

// Map draws the whole run turn by turn: one row a turn of the wheel, one
// column a beat, coloured by deviation. What comes round with the wheel is a
// vertical line, what comes round with a wheel further up a slanted one. A long
// run goes on in further strips to the right. teeth is the number of teeth by
// which the columns are numbered, 0 to number them by beats. A column in which
// a recurrence returns, in every turn or every so many turns, bears an arrow.
func Map(h Heading, g *Grid, teeth int, recurrences []fault.Recurrence) *Figure {
	f := newFigure("Map of the run, turn by turn", h)
	if g.rows() == 0 {
		p := newPanel(span{0, float64(g.beats)}, span{0, 1})
		p.banner = "no beat was heard"
		f.rows = [][]*panel{{p}}
		return f
	}
	if g.rows() > shortRows {
		f.height = pageHeight
	}
	strips := min((g.rows()+stripRows-1)/stripRows, mostStrips)
	per := (g.rows() + strips - 1) / strips
	f.key = g.key()
	pins := pinned(f, recurrences, g.column)
	times := g.timeAxis(8 * strips)
	f.rows = [][]*panel{nil}
	for first := 0; first < g.rows(); first += per {
		last := first + per
		p := newPanel(span{0, float64(g.beats)}, span{-float64(last), -float64(first)})
		p.plot.Add(cells{g, f.key, first, last}, g.breaks())
		p.pins = pins
		p.bottom = g.axis(teeth, 24/strips)
		p.left.ticks = within(times.ticks, span{-float64(last), -float64(first)})
		if first == 0 {
			p.left.label = times.label + ", downwards"
		}
		f.rows[0] = append(f.rows[0], p)
	}
	f.note(g.reading(strips))
	return f
}

// key is the colour key, symmetrical about zero; late is dark.
func (g *Grid) key() *key {
	limit := g.limit()
	unit, scale := "ms", 1e3
	if limit < 2e-4 {
		unit, scale = "µs", 1e6
	}
	a := valueAxis("deviation ("+unit+"), late is +", -limit*scale, limit*scale, 9, true)
	for i := range a.ticks {
		a.ticks[i].Value /= scale
	}
	return &key{span: span{-limit, limit}, colours: ramp(deviationAnchors, 63), axis: a}
}

// column is the place on the axis of the column in which a recurrence returns,
// false where it doesn't keep to one.
func (g *Grid) column(r fault.Recurrence) (float64, bool) {
	turns := r.PeriodBeats / float64(g.beats)
	whole := math.Round(turns)
	return math.Floor(math.Mod(r.PhaseBeats, float64(g.beats))) + 0.5, whole >= 1 && math.Abs(turns-whole) < 1e-6
}

// timeAxis has the ticks of elapsed time where the rows are that began then.
func (g *Grid) timeAxis(most int) axis {
	start := g.starts[slices.IndexFunc(g.starts, finite)]
	a := elapsedAxis(start, max(g.end, start+1), most)
	ordinary := g.rowLength()
	var ticks []plot.Tick
	for _, t := range a.ticks {
		if row, ok := g.rowAt(t.Value, ordinary); ok {
			ticks = append(ticks, plot.Tick{Value: -row, Label: t.Label})
		}
	}
	return axis{label: a.label, ticks: ticks}
}

// axis numbers the columns, by tooth where there are as many beats as the
// teeth give.
func (g *Grid) axis(teeth, most int) axis {
	if teeth < 1 {
		t := valueAxis("beat of the turn", 0, float64(g.beats-1), most, false)
		for i := range t.ticks {
			t.ticks[i].Value += 0.5
		}
		return t
	}
	each := float64(g.beats) / float64(teeth)
	s := step{1, 1}
	if teeth > most {
		s = valueStep(1, float64(teeth), most)
		s.minor = max(s.minor, 1)
	}
	ticks := spread(1, float64(teeth), s, func(v float64) string { return plain(v, 0) })
	for i := range ticks {
		ticks[i].Value = (ticks[i].Value - 0.5) * each
	}
	return axis{label: "tooth", ticks: ticks}
}

// reading says how to read the map.
func (g *Grid) reading(strips int) string {
	s := "Time runs downwards"
	if strips > 1 {
		s += ", then on at the top of the next strip"
	}
	if g.merged > 1 {
		s += fmt.Sprintf("; each row is the mean of %d turns", g.merged)
	}
	s += ". A vertical line comes round with this wheel; bands that slant or lie level come round with a wheel further up. White: not heard, or beside a jump."
	if len(g.breaks()) > 0 {
		s += " Yellow line: the movement stood still."
	}
	return s
}

// cells draws rows of a grid, in its lengthwise range, as an image with one dot
// of it for each dot of the picture.
type cells struct {
	grid        *Grid
	key         *key
	first, last int
}

// Plot implements plot.Plotter.
func (s cells) Plot(c draw.Canvas, _ *plot.Plot) {
	size := c.Size()
	c.DrawImage(c.Rectangle, s.image(inDots(size.X), inDots(size.Y)))
}

// image draws the rows; more rows than dots are averaged.
func (s cells) image(width, height int) *image.RGBA {
	img := image.NewRGBA(image.Rect(0, 0, width, height))
	inks := make([]color.RGBA, s.grid.beats)
	rows := s.last - s.first
	drawn := -1
	for y := range height {
		from := s.first + y*rows/height
		to := max(s.first+(y+1)*rows/height, from+1)
		if from >= s.grid.rows() {
			break // the last strip may be shorter: its foot stays empty
		}
		line := img.Pix[y*img.Stride : (y+1)*img.Stride]
		if from == drawn && to == from+1 {
			copy(line, img.Pix[(y-1)*img.Stride:])
			continue
		}
		for column := range inks {
			inks[column] = s.ink(from, min(to, s.grid.rows()), column)
		}
		for x := range width {
			ink := inks[x*len(inks)/width]
			copy(line[4*x:], []uint8{ink.R, ink.G, ink.B, ink.A})
		}
		drawn = from
	}
	return img
}

// ink is the colour of a cell, none where no beat was heard.
func (s cells) ink(from, to, column int) color.RGBA {
	m := s.grid.mean(from, to, column)
	if math.IsNaN(m) {
		return color.RGBA{}
	}
	return s.key.colour(m)
}

// breaks are the rows before which the movement stood still.
type breaks []int

// Plot implements plot.Plotter.
func (b breaks) Plot(c draw.Canvas, p *plot.Plot) {
	_, y := p.Transforms(&c)
	for _, row := range b {
		at := -float64(row)
		if at > p.Y.Min && at < p.Y.Max {
			c.StrokeLine2(stroke(ink, 2.4), c.Min.X, y(at), c.Max.X, y(at))
			c.StrokeLine2(stroke(yellow, 1.4), c.Min.X, y(at), c.Max.X, y(at))
		}
	}
}
