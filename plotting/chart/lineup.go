package chart

import (
	"strconv"

	"gonum.org/v1/plot"
	"gonum.org/v1/plot/vg"

	"rundown/analysis/rate"
)

// Lineup is a number of runs, one after the other.
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
	for _, row := range l.Rows {
		f.Panels = append(f.Panels, l.panel(row))
	}
	if l.Groups != nil {
		f.note("Runs of one label stand on one ground.")
	}
	names := ""
	for i, name := range l.Names[:min(len(l.Names), mostRuns)] {
		if i > 0 {
			names += ";  "
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
	var xs, ses []float64
	for _, v := range row.Values {
		if finite(v.X) {
			xs, ses = append(xs, v.X), append(ses, known(v.SE))
		}
	}
	least := 0.0
	for _, x := range xs {
		least = max(least, 1e-3*max(x, -x))
	}
	values := robustSpan(xs, ses, max(least, 1e-6))
	p := &Panel{X: l.axis(), Y: valueAxis(row.Label+" ("+row.Unit+")", values, 5, row.Signed)}
	p.Y.Unit = row.Unit
	p.Areas = l.grounds(p)
	if len(xs) == 0 {
		p.Banner = "not known in any run"
		return p
	}
	p.level(0)
	inside, beyond := Series{Name: "a run", Bounds: OneError, Ink: dark, Mark: Dot, Size: 2.6}, Series{Name: "beyond the axis", Ink: ink, Mark: Cross, Size: 2.8}
	for i, v := range row.Values {
		x := float64(i + 1)
		switch {
		case !finite(v.X):
		case !values.contains(v.X):
			beyond.X, beyond.Y = append(beyond.X, x), append(beyond.Y, p.Y.inside(v.X))
		default:
			se := known(v.SE)
			inside.X, inside.Y = append(inside.X, x), append(inside.Y, v.X)
			inside.Low, inside.High = append(inside.Low, v.X-se), append(inside.High, v.X+se)
		}
	}
	p.Series = append(p.Series, inside)
	if len(beyond.X) > 0 {
		p.Series = append(p.Series, beyond)
	}
	return p
}

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
