package chart

import (
	"math"
	"slices"
	"strconv"

	"gonum.org/v1/plot"
	"gonum.org/v1/plot/vg"

	"rundown/analysis/rate"
)

// Lineup is a number of runs, one after the other, with one figure at the least.
type Lineup struct {
	Names  []string // of the runs; any characters, any length
	Groups []string // to which each belongs, those of one group together; nil for none
	Rows   []LineupRow
}

// LineupRow is one figure of all runs.
type LineupRow struct {
	Label, Unit string
	Signed      bool         // values have a sign
	Values      []rate.Value // one a run; NaN where there is none
}

// mostRuns is how many runs have their numbers under the picture.
const mostRuns = 24

// Runs draws the figures of a number of runs, each in a panel of its own, with
// bars of one standard error. Runs of one group stand on one ground.
func Runs(l Lineup) *Figure {
	f := newFigure("Runs one after the other", Heading{})
	f.columns = 2
	f.height = 60 + 120*vg.Length((len(l.Rows)+1)/2)
	for i, row := range l.Rows {
		p := l.panel(row)
		if i > 0 && len(p.Series) > 0 {
			p.Series[len(p.Series)-1].Name = "" // named in the first
		}
		f.Panels = append(f.Panels, p)
	}
	if l.Groups != nil {
		f.note("Runs of one label stand on one ground.")
	}
	names := ""
	for i, name := range l.Names[:min(len(l.Names), mostRuns)] {
		if i > 0 {
			names += "; "
		}
		names += strconv.Itoa(i+1) + " " + cut(safe(name), letters(smallSize, ink, 0, 0), textWidth*0.3)
	}
	f.note("Runs: " + names + ".")
	if left := len(l.Names) - mostRuns; left > 0 {
		f.note("The names of " + count(left, "further run") + " are in the table.")
	}
	return f
}

// panel is the panel of one figure.
func (l Lineup) panel(row LineupRow) *Panel {
	s := Series{Name: "a run", Bounds: OneError, Ink: dark, Mark: Dot, Size: 2.6}
	values := span{math.Inf(1), math.Inf(-1)}
	for i, v := range row.Values {
		if !finite(v.X) {
			continue
		}
		se := known(v.SE)
		values = values.including(v.X - se).including(v.X + se)
		s.X, s.Y = append(s.X, float64(i+1)), append(s.Y, v.X)
		s.Low, s.High = append(s.Low, v.X-se), append(s.High, v.X+se)
	}
	p := &Panel{X: l.axis()}
	if len(s.X) == 0 {
		p.Y = valueAxis(row.name(), span{0, 1}, 5, row.Signed)
		p.Banner = "not known in any run"
		return p
	}
	margin := max(values.width()/12, 1e-3*math.Abs(values.hi), 1e-6)
	p.Y = valueAxis(row.name(), span{values.lo - margin, values.hi + margin}, 5, row.Signed).inner()
	p.Y.Unit = row.Unit
	p.Areas = l.grounds(p)
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

func (r LineupRow) name() string { return r.Label + " (" + r.Unit + ")" }

// axis numbers the runs, or some of them where they are many.
func (l Lineup) axis() Axis {
	n := len(l.Names)
	a := Axis{Label: "run", Low: 0.4, High: float64(n) + 0.6}
	for i := 1; i <= n; i += 1 + (n-1)/mostTimes {
		a.Ticks = append(a.Ticks, plot.Tick{Value: float64(i), Label: strconv.Itoa(i)})
	}
	return a
}

// grounds shade every other group.
func (l Lineup) grounds(p *Panel) []Area {
	var out []Area
	shaded := false
	for i := 0; i < len(l.Groups); {
		n := 1
		for i+n < len(l.Groups) && l.Groups[i+n] == l.Groups[i] {
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
