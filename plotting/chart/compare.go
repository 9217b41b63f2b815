package chart

import (
	"image/color"

	"gonum.org/v1/plot"
	"gonum.org/v1/plot/vg"
	"gonum.org/v1/plot/vg/draw"

	"rundown/analysis/beat"
	"rundown/analysis/rate"
)

// Difference is by how much the rate of a second run exceeds that of a first
// one at the same elapsed time.
type Difference struct {
	Time float64    // elapsed, true seconds
	Rate rate.Value // s/day, NaN where there is none
}

// Compare draws the drift curves of two runs over each other, with their
// stable bands; under them the difference, second minus first, with its 95 %
// band; and the counts of their events.
func Compare(first, second Run, difference []Difference) *Figure {
	f := newFigure("Two runs compared", Heading{})
	f.height = 420
	sides := []side{
		{"A", first, dark, translucent(pale), 1.3, 0},
		{"B", second, rust, translucent(sand), 0.8, 45},
	}
	time := span{0, max(first.time().hi, second.time().hi)}
	over := drawOver(f, sides, time)
	below := drawDifference(f, difference, time)
	counts := eventCounts(sides)
	f.rows = [][]*panel{{over}, {below}, {counts}}
	return f
}

// side is one of two runs, and how its curve is drawn.
type side struct {
	name   string
	run    Run
	ink    color.Color
	errors color.Color
	width  vg.Length
	rings  vg.Length // a ring on the curve at every so many points; 0 for none
}

// curve is the smoothed rate, or that of the windows where there is none.
func (s side) curve() series {
	if smooth := s.run.smoothed(); smooth.len() > 0 {
		return smooth
	}
	return s.windows()
}

// windows is the rate of the windows.
func (s side) windows() series { return figures(s.run.Windows, rates.pick, s.run.Events) }

// drawOver is the panel with both curves.
func drawOver(f *Figure, sides []side, time span) *panel {
	var values span
	for i, s := range sides {
		r := rates.span(s.windows(), s.run.smoothed(), s.run.band())
		if i == 0 {
			values = r
		}
		values = values.including(r.lo).including(r.hi)
	}
	p := newPanel(time, values)
	p.bottom = elapsedAxis(time.lo, time.hi, mostTimes)
	p.bottom = axis{ticks: unlabelled(p.bottom.ticks)}
	p.left = valueAxis(rates.label, values.lo, values.hi, mostValues, true)
	for _, s := range sides {
		if b := s.run.band(); b != nil {
			p.plot.Add(stripes{spans: []span{{b.Start, b.End}}, ink: translucent(wash)})
			p.brackets = append(p.brackets, bracket{span{b.Start, b.End}, s.name + ": " + bandText(b), s.ink})
		}
	}
	p.plot.Add(grid{p.bottom.ticks, p.left.ticks})
	for _, s := range sides {
		p.plot.Add(ribbon{s.windows(), 1, s.errors})
	}
	sty := letters(textSize, ink, 0, 0)
	for _, s := range sides {
		l := line{series: s.curve(), LineStyle: stroke(s.ink, s.width), rings: s.rings}
		above, below := s.windows().beyond(values)
		p.plot.Add(l, strays{above, below, s.ink})
		f.explain(l, s.name+": "+cut(safe(s.run.Name), sty, textWidth*0.38))
		if note := rates.offScale(above, below, time.hi); note != "" {
			f.note(s.name + ": " + note)
		}
	}
	f.note("The pale bands about the curves are ± one standard error of a window.")
	return p
}

// drawDifference is the panel with the difference.
func drawDifference(f *Figure, difference []Difference, time span) *panel {
	ps := make([]point, len(difference))
	for i, d := range difference {
		ps[i] = point{d.Time, d.Rate.X, d.Rate.SE}
	}
	s := split(ps, nil)
	xs, ses := s.values()
	for i := range ses {
		ses[i] *= twoSided
	}
	values := robustSpan(xs, ses, rates.least).including(0)
	p := newPanel(time, values)
	p.bottom = elapsedAxis(time.lo, time.hi, mostTimes)
	p.left = valueAxis("B − A (s/day)", values.lo, values.hi, 5, true)
	p.plot.Add(grid{p.bottom.ticks, p.left.ticks})
	if len(xs) == 0 {
		p.banner = "the runs have no time in common"
		return p
	}
	band, l := ribbon{s, twoSided, grey}, line{series: s, LineStyle: stroke(ink, 0.9)}
	above, below := s.beyond(values)
	p.plot.Add(band, grid{p.bottom.ticks, p.left.ticks}, l, strays{above, below, ink})
	f.explain(l, "B − A")
	f.explain(band, "its 95 % band")
	return p
}

// eventCounts is a table: one row a run, one column a kind of event.
func eventCounts(sides []side) *panel {
	n := float64(len(beat.Kinds))
	p := newPanel(span{0, n}, span{0, float64(len(sides))})
	p.height = vg.Length(len(sides)) * 12
	for i, kind := range beat.Kinds {
		p.top.ticks = append(p.top.ticks, plot.Tick{Value: float64(i) + 0.5, Label: string(kind)})
	}
	for i, s := range sides {
		at := float64(len(sides)-i) - 0.5
		p.left.ticks = append(p.left.ticks, plot.Tick{Value: at, Label: s.name})
		for k, kind := range beat.Kinds {
			p.plot.Add(cell{float64(k) + 0.5, at, grouped(float64(len(of(s.run.Events, kind))))})
		}
	}
	p.left.label = "events"
	return p
}

// cell is a text in the middle of a place.
type cell struct {
	x, y float64
	text string
}

// Plot implements plot.Plotter.
func (t cell) Plot(c draw.Canvas, p *plot.Plot) {
	x, y := p.Transforms(&c)
	c.FillText(letters(textSize, ink, draw.XCenter, draw.YCenter), vg.Point{X: x(t.x), Y: y(t.y) + textSize/12}, t.text)
}

// translucent lets what lies behind a colour show through.
func translucent(c color.RGBA) color.Color { return color.NRGBA{c.R, c.G, c.B, 0xa0} }
