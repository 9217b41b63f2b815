package chart

import (
	"math"
	"strings"

	"rundown/analysis/beat"
	"rundown/analysis/prose"
	"rundown/analysis/rate"
)

// Difference is by how much the rate of a second run exceeds that of a first
// one at the same elapsed time.
type Difference struct {
	Time float64    // elapsed, true seconds
	Rate rate.Value // s/day, NaN where there is none
}

// The panels of Compare.
const (
	ComparedRates = iota
	ComparedDifference
)

// Compare draws the drift curves of two runs over each other, with their
// stable bands; under them the difference, second minus first, with its 95 %
// band; and, in words, the counts of their events.
func Compare(first, second Run, difference []Difference) *Figure {
	f := newFigure("Two runs compared", Heading{})
	f.height = 420
	sides := []side{
		{"A", first, dark, translucent(pale), 1.3, nil},
		{"B", second, rust, translucent(sand), 1.1, []float64{5, 2.5}},
	}
	time := span{0, max(first.time().hi, second.time().hi)}
	f.Panels = []*Panel{drawOver(f, sides, time), drawDifference(difference, time)}
	for _, s := range sides {
		f.note(s.events())
	}
	return f
}

// side is one of two runs, and how its curve is drawn.
type side struct {
	name   string
	run    Run
	ink    Ink
	errors Ink
	width  float64
	dash   []float64
}

// drawOver is the panel with both curves: each smoothed, or that of the windows
// where there is none, with the errors of the windows.
func drawOver(f *Figure, sides []side, time span) *Panel {
	p := &Panel{X: elapsedAxis(time, mostTimes)}
	p.X.mute = true
	var values span
	for i, s := range sides {
		r := rates.span(s.run.curve(rates.pick), s.run.smoothed(), s.run.band())
		if i == 0 {
			values = r
		}
		values = values.including(r.lo).including(r.hi)
	}
	p.Y = rates.axis(values, mostValues)
	p.level(0)
	for _, s := range sides {
		if b := s.run.band(); b != nil {
			p.Areas = append(p.Areas, Area{Name: s.name + ": " + bandText(b), Ink: translucent(wash), Boxes: [][4]float64{p.upright(span{b.Start, b.End})}})
		}
		c := s.run.curve(rates.pick)
		ws := c.bounded(s.name, s.ink, 1, OneError)
		ws.Band, ws.Strays = &s.errors, true
		curve := s.run.smoothed().series("", s.ink)
		if len(curve.X) == 0 {
			curve = c.series("", s.ink)
		}
		curve.Width, curve.Dash = s.width, s.dash
		curve.Name = s.name + ": " + cut(safe(s.run.Name), letters(textSize, ink, 0, 0), textWidth*0.38)
		p.Series = append(p.Series, ws, curve)
		if note := rates.offScale(c, values); note != "" {
			f.note(s.name + ": " + note)
		}
	}
	return p
}

// drawDifference is the panel with the difference.
func drawDifference(difference []Difference, time span) *Panel {
	var c curve
	each := 1 + (len(difference)-1)/mostPoints
	for i := 0; i < len(difference); i += each {
		var group []point
		for _, d := range difference[i:min(i+each, len(difference))] {
			if finite(d.Rate.X) {
				group = append(group, point{d.Time, d.Rate.X, known(d.Rate.SE)})
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

// events counts the kinds of events of a run.
func (s side) events() string {
	var counts []string
	for _, kind := range beat.Kinds {
		if n := len(of(s.run.Events, kind)); n > 0 {
			counts = append(counts, prose.Grouped(int64(n))+" "+string(kind))
		}
	}
	if counts == nil {
		return "Events of " + s.name + ": none."
	}
	return "Events of " + s.name + ": " + strings.Join(counts, ", ") + "."
}
