package chart

import (
	"math"
	"slices"
	"strconv"

	"gonum.org/v1/plot"
	"gonum.org/v1/plot/vg"

	"rundown/analysis/series"
)

// mostRuns is how many runs have their numbers under the picture.
const mostRuns = 24

// Runs draws the figures of a series of runs, each in a panel of its own, with
// bars of one standard error. In order of their labels, runs of one label stand on
// one ground.
func Runs(s *series.Series) *Figure {
	f := newFigure("Runs one after the other", Heading{})
	f.columns = 2
	f.height = 60 + 120*vg.Length((len(s.Figures)+1)/2)
	for i := range s.Figures {
		p := runsPanel(s, i)
		if i > 0 && len(p.Series) > 0 {
			p.Series[len(p.Series)-1].Name = "" // named in the first
		}
		f.Panels = append(f.Panels, p)
	}
	if s.Order == series.ByLabel {
		f.note("Runs of one label stand on one ground.")
	}
	names := ""
	for i, r := range s.Runs[:min(len(s.Runs), mostRuns)] {
		if i > 0 {
			names += "; "
		}
		names += strconv.Itoa(i+1) + " " + cut(safe(r.Name), letters(smallSize, ink, 0, 0), textWidth*0.3)
	}
	f.note("Runs: " + names + ".")
	if left := len(s.Runs) - mostRuns; left > 0 {
		f.note("The names of " + count(left, "further run") + " are in the table.")
	}
	return f
}

// runsPanel is the panel of one figure.
func runsPanel(all *series.Series, figure int) *Panel {
	what, unit := all.Figures[figure].Label, all.Figures[figure].Unit
	axis := func(r span) Axis { return valueAxis(what+" ("+unit+")", r, 5, unit == "s/day") }
	s := Series{Name: "a run", Bounds: OneError, Ink: dark, Mark: Dot, Size: 2.6}
	values := span{math.Inf(1), math.Inf(-1)}
	for i, r := range all.Runs {
		x, se := float64(r.Values[figure].X), known(float64(r.Values[figure].SE))
		if !finite(x) {
			continue
		}
		values = values.including(x - se).including(x + se)
		s.X, s.Y = append(s.X, float64(i+1)), append(s.Y, x)
		s.Low, s.High = append(s.Low, x-se), append(s.High, x+se)
	}
	p := &Panel{X: runsAxis(len(all.Runs))}
	if len(s.X) == 0 {
		p.Y = axis(span{0, 1})
		p.Banner = "not known in any run"
		return p
	}
	margin := max(values.width()/12, 1e-3*math.Abs(values.hi), 1e-6)
	p.Y = axis(span{values.lo - margin, values.hi + margin}).inner()
	p.Y.Unit = unit
	p.Areas = grounds(all, p)
	p.level(0)
	p.Series = append(p.Series, s)
	return p
}

// inner is the axis without ticks so close to its ends that their labels would
// touch those of a neighbour.
func (a Axis) inner() Axis {
	near := a.span().width() / 12
	a.Ticks = slices.DeleteFunc(a.Ticks, func(t plot.Tick) bool { return t.Value < a.Low+near || t.Value > a.High-near })
	return a
}

// runsAxis numbers n runs, or some of them where they are many.
func runsAxis(n int) Axis {
	a := Axis{Label: "run", Low: 0.4, High: float64(n) + 0.6}
	for i := 1; i <= n; i += 1 + (n-1)/mostTimes {
		a.Ticks = append(a.Ticks, plot.Tick{Value: float64(i), Label: strconv.Itoa(i)})
	}
	return a
}

// grounds shade every other group of runs of one label.
func grounds(s *series.Series, p *Panel) []Area {
	var out []Area
	shaded := false
	for i := 0; i < len(s.Runs) && s.Order == series.ByLabel; {
		n := 1
		for i+n < len(s.Runs) && s.Runs[i+n].Notes.Label == s.Runs[i].Notes.Label {
			n++
		}
		if shaded {
			out = append(out, Area{Ink: translucent(wash), Boxes: [][4]float64{p.upright(span{float64(i) + 0.5, float64(i+n) + 0.5})}})
		}
		shaded = !shaded
		i += n
	}
	return out
}
