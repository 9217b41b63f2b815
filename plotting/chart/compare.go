package chart

import (
	"math"
	"slices"
	"strings"

	"rundown/analysis/beat"
	"rundown/analysis/compare"
	"rundown/analysis/prose"
)

// The panels of Compare.
const (
	ComparedRates = iota
	ComparedDifference
)

// Compare draws the drift curves of the runs of two states over each other, of
// single runs with their stable bands; under them the difference of their means,
// second minus first, with its 95 % band; and, in words, the counts of their
// events. There is at least one run of either.
func Compare(first, second []Run, difference []compare.Difference) *Figure {
	f := newFigure("Two runs compared", Heading{})
	f.height = 420
	if len(first)+len(second) > 2 {
		f.Title = "Runs before and after compared"
	}
	sides := []side{
		{"A", first, dark, translucent(pale), 1.3, nil},
		{"B", second, rust, translucent(sand), 1.1, []float64{5, 2.5}},
	}
	time := span{0, 0}
	for _, r := range slices.Concat(first, second) {
		time.hi = max(time.hi, r.time().hi)
	}
	f.Panels = []*Panel{drawOver(f, sides, time), drawDifference(difference, time)}
	for _, s := range sides {
		f.note(s.events())
	}
	return f
}

// side are the runs of one state, and how their curves are drawn.
type side struct {
	name   string
	runs   []Run
	ink    Ink
	errors Ink
	width  float64
	dash   []float64
}

// drawOver is the panel with all curves: each smoothed, or that of the windows
// where there is none; single ones with the errors of the windows.
func drawOver(f *Figure, sides []side, time span) *Panel {
	p := &Panel{X: elapsedAxis(time, mostTimes)}
	p.X.mute = true
	values := span{math.Inf(1), math.Inf(-1)}
	for _, s := range sides {
		for _, run := range s.runs {
			r := rates.span(run.curve(rates.pick), run.smoothed(), run.band())
			values = values.including(r.lo).including(r.hi)
		}
	}
	p.Y = rates.axis(values, mostValues)
	p.level(0)
	for _, s := range sides {
		for i, run := range s.runs {
			s.draw(f, p, run, i, values)
		}
	}
	return p
}

// draw draws one run of a side; only the first has its name in the legend.
func (s side) draw(f *Figure, p *Panel, run Run, i int, values span) {
	single := len(s.runs) == 1
	if b := run.band(); b != nil && single {
		p.Areas = append(p.Areas, Area{Name: s.name + ": " + bandText(b), Ink: translucent(wash), Boxes: [][4]float64{p.upright(span{b.Start, b.End})}})
	}
	c := run.curve(rates.pick)
	curve := run.smoothed().series("", s.ink)
	if len(curve.X) == 0 {
		curve = c.series("", s.ink)
	}
	curve.Width, curve.Dash = s.width, s.dash
	name := safe(run.Name)
	if !single {
		name = count(len(s.runs), "run") + ", " + name + " first"
		curve.Width *= 0.7
	}
	if i == 0 {
		curve.Name = s.name + ": " + cut(name, letters(textSize, ink, 0, 0), textWidth*0.38)
	}
	if single {
		ws := c.bounded(s.name, s.ink, 1, OneError)
		ws.Band, ws.Strays = &s.errors, true
		p.Series = append(p.Series, ws)
	}
	p.Series = append(p.Series, curve)
	if note := rates.offScale(c, values); note != "" {
		f.note(s.name + ", " + safe(run.Name) + ": " + note)
	}
}

// drawDifference is the panel with the difference.
func drawDifference(difference []compare.Difference, time span) *Panel {
	var c curve
	each := 1 + (len(difference)-1)/mostPoints
	for i := 0; i < len(difference); i += each {
		var group []point
		for _, d := range difference[i:min(i+each, len(difference))] {
			if finite(d.Rate) {
				group = append(group, point{d.Time, d.Rate, known(d.SE)})
			}
		}
		if group == nil {
			group = []point{{difference[i].Time, math.NaN(), 0}}
		}
		c = append(c, mean(group))
	}
	xs, ses := c.values()
	for i := range ses {
		ses[i] *= twoSided
	}
	values := robustSpan(xs, ses, rates.least).including(0)
	p := &Panel{X: elapsedAxis(time, mostTimes), Y: valueAxis("B − A (s/day)", values, 5, true)}
	p.Y.Unit = rates.unit
	if len(xs) == 0 {
		p.Banner = "the runs have no time in common"
		return p
	}
	p.level(0)
	s := c.bounded("B − A", ink, twoSided, Interval)
	s.Band, s.Width, s.Strays = &grey, 0.9, true
	p.Series = append(p.Series, s)
	return p
}

// events counts the kinds of events of the runs of a side.
func (s side) events() string {
	var counts []string
	for _, kind := range beat.Kinds {
		n := 0
		for _, r := range s.runs {
			n += len(of(r.Events, kind))
		}
		if n > 0 {
			counts = append(counts, prose.Grouped(int64(n))+" "+string(kind))
		}
	}
	if counts == nil {
		return "Events of " + s.name + ": none."
	}
	return "Events of " + s.name + ": " + strings.Join(counts, ", ") + "."
}
