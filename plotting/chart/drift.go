package chart

import (
	"fmt"
	"slices"
	"strings"

	"gonum.org/v1/plot"

	"rundown/analysis/beat"
	"rundown/analysis/rate"
)

// quantity is a figure of the windows that is drawn against elapsed time.
type quantity struct {
	title  string
	label  string // of the axis, with the unit
	unit   string // as in a sentence
	none   string // what to say where there is no such figure
	pick   func(rate.Window) rate.Value
	signed bool
	least  float64 // the narrowest range that is worth a whole axis
	focus  bool    // the stable band is what matters most
}

const (
	// fewPoints is up to how many windows are drawn one by one, with bars.
	fewPoints = 100
	// crowded is how many windows in a dot of the picture hide each other.
	crowded = 2
	// mostTimes and mostValues are how many labels the axes take.
	mostTimes, mostValues = 10, 7
)

// drift draws a quantity against elapsed time, and a smoothed curve through it
// unless that is empty.
func drift(r Run, q quantity, smooth series) (*Figure, *panel) {
	f := newFigure(q.title, r.Heading)
	s := figures(r.Windows, q.pick, r.Events)
	time := r.time()
	values := q.span(s, smooth, r.band())
	p := newPanel(time, values)
	p.bottom = elapsedAxis(time.lo, time.hi, mostTimes)
	p.left = valueAxis(q.label, values.lo, values.hi, mostValues, q.signed)
	p.top = r.Turns.axis(time)
	f.rows = [][]*panel{{p}}

	backdrop(f, p, r)
	if s.len() == 0 {
		p.left.ticks = nil
	}
	p.plot.Add(grid{p.bottom.ticks, p.left.ticks})
	if s.len() == 0 {
		p.banner = q.none
		if !r.heard() {
			p.banner = "no beat was heard"
		}
		return f, p
	}
	curves(f, p, s, smooth, r.Windows)
	above, below := s.beyond(values)
	p.plot.Add(strays{above, below, rust})
	f.note(q.offScale(above, below, time.hi))
	return f, p
}

// span is the range of the axis: that of the windows, and all of the smoothed
// curve that lies within half as much again. Where the band matters most, what
// happens in it takes up a fifth of the height, though the beginning and the end
// of a run-down may then fall out of the picture; at most a tenth of the windows
// do so on either side.
func (q quantity) span(s, smooth series, band *rate.Band) span {
	xs, ses := s.values()
	r := robustSpan(xs, ses, q.least)
	wide := span{r.lo - r.width()/4, r.hi + r.width()/4}
	for _, stretch := range smooth {
		for _, p := range stretch {
			r = r.including(wide.clamp(p.x))
		}
	}
	xs, ses = s.during(band).values()
	if !q.focus || len(xs) == 0 {
		return r
	}
	inner := robustSpan(xs, ses, q.least)
	all, _ := s.values()
	slices.Sort(all)
	return span{
		lo: max(r.lo, min(inner.lo-2*inner.width(), quantile(all, 0.1))),
		hi: min(r.hi, max(inner.hi+2*inner.width(), quantile(all, 0.9))),
	}
}

// backdrop draws what lies behind the curves: stops and the stable band.
func backdrop(f *Figure, p *panel, r Run) {
	if b := r.band(); b != nil {
		band := stripes{spans: []span{{b.Start, b.End}}, ink: wash}
		p.plot.Add(band)
		f.explain(band, "stable band")
	}
	if stops := standstills(r); len(stops) > 0 {
		standstill := stripes{spans: stops, ink: grey, hatch: true}
		p.plot.Add(standstill)
		f.explain(standstill, "stopped")
	}
}

// standstills are the times in which the movement stood still.
func standstills(r Run) []span {
	var spans []span
	for _, e := range of(r.Events, beat.Stop) {
		spans = append(spans, span{e.Start, e.End})
	}
	return spans
}

// curves draws the windows with their standard errors, and one dark curve.
func curves(f *Figure, p *panel, s, smooth series, ws []rate.Window) {
	each := "window of " + lasting(ws[0].End-ws[0].Start)
	if s.len() <= fewPoints {
		thread := line{series: s, LineStyle: stroke(middle, 0.6)}
		marks := dots{series: s, errors: 1, ink: dark, radius: 1.3}
		p.plot.Add(thread, marks)
		f.explain(marks, each+" ± one standard error")
		drawSmooth(f, p, smooth)
		return
	}
	errors := ribbon{s, 1, pale}
	raw := line{series: s, LineStyle: stroke(middle, 0.5)}
	full := float64(s.len()) > crowded*float64(textWidth/pixel)
	switch {
	case full:
		p.plot.Add(raw, errors)
	case smooth.len() > 0:
		p.plot.Add(errors, raw)
	default:
		raw.LineStyle = stroke(dark, 0.8)
		p.plot.Add(errors, raw)
	}
	f.explain(raw, each)
	f.explain(errors, "± one standard error")
	if full && smooth.len() == 0 {
		mean := line{series: s, LineStyle: stroke(dark, 0.8), means: true}
		p.plot.Add(mean)
		f.explain(mean, "mean of neighbours")
	}
	drawSmooth(f, p, smooth)
}

// drawSmooth draws the smoothed curve, if there is one.
func drawSmooth(f *Figure, p *panel, smooth series) {
	if smooth.len() == 0 {
		return
	}
	l := line{series: smooth, LineStyle: stroke(dark, 1.3)}
	p.plot.Add(l)
	f.explain(l, "smoothed")
}

// offScale says how many windows the axis leaves out, and how far they reach.
func (q quantity) offScale(above, below []point, total float64) string {
	say := func(ps []point, where, how string, further func(a, b float64) bool) string {
		if len(ps) == 0 {
			return ""
		}
		worst := ps[0]
		for _, p := range ps {
			if further(p.x, worst.x) {
				worst = p
			}
		}
		write := plain
		if q.signed {
			write = plus
		}
		return fmt.Sprintf("%s %s (%s %s %s at %s)", count(len(ps), "window"), where, how, write(worst.x, decimals(q.least)+1), q.unit, moment(worst.t, total))
	}
	parts := []string{
		say(above, "above", "up to", func(a, b float64) bool { return a > b }),
		say(below, "below", "down to", func(a, b float64) bool { return a < b }),
	}
	both := strings.Trim(strings.Join(parts, ", "), ", ")
	if both == "" {
		return ""
	}
	return "Off the scale, marked by triangles at the edge: " + both + "."
}

// leastTurns is the part of a turn below which an axis of turns says nothing.
const leastTurns = 0.1

// axis is the upper axis, in turns of the arbor; t may be nil.
func (t *Turns) axis(time span) axis {
	if t == nil || !(t.Each > 0) || !finite(t.Start) {
		return axis{}
	}
	most := (time.hi - t.Start) / t.Each
	if !(most >= leastTurns) {
		return axis{}
	}
	a := valueAxis("turns of the "+arborName(t.Name), 0, most, mostTimes, false)
	for i := range a.ticks {
		a.ticks[i].Value = t.Start + t.Each*a.ticks[i].Value
	}
	a.ticks = within(a.ticks, time)
	return a
}

// within drops the ticks outside a range.
func within(ticks []plot.Tick, r span) []plot.Tick {
	var kept []plot.Tick
	for _, t := range ticks {
		if r.contains(t.Value) {
			kept = append(kept, t)
		}
	}
	return kept
}

// count writes a number of things: "1 window", "3 windows".
func count(n int, thing string) string {
	if n == 1 {
		return "1 " + thing
	}
	return fmt.Sprintf("%s %ss", grouped(float64(n)), thing)
}

// moment writes a time of a run of a total length: seconds while it is short.
func moment(s, total float64) string {
	if total <= 2*minute {
		return plain(s, 1) + " s"
	}
	return clock(s)
}
