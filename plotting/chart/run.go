package chart

import (
	"cmp"
	"math"
	"slices"

	"rundown/analysis"
	"rundown/analysis/beat"
	"rundown/analysis/prose"
	"rundown/analysis/rate"
)

// Heading says which run a chart shows.
type Heading struct {
	Name    string  // of the recording; any characters, any length
	Nominal float64 // beats per hour; 0 where there is none
}

// Run is what the charts of one run show. Nothing in it is changed.
type Run struct {
	Heading
	Windows []rate.Window      // in order of time
	Band    *rate.Band         // nil where there is no stable band
	Kind    rate.AmplitudeKind // of the windows' amplitudes; empty where they have none
	Events  []beat.Event       // in order of time
	Turns   *Turns             // nil without a train
	Note    string             // under the chart of the rate: what the errors shown leave out; empty for nothing
}

// Turns counts elapsed time in turns of an arbor.
type Turns struct {
	Name  string  // of the arbor: "barrel"
	Start float64 // when the count begins, true seconds
	Each  float64 // length of one turn, true seconds, above 0
}

// subtitle is the line under the title.
func (h Heading) subtitle() string {
	nominal := ""
	if h.Nominal > 0 && finite(h.Nominal) {
		nominal = "nominal " + prose.PerHour(analysis.Number(h.Nominal)) + " beats per hour"
	}
	if h.Name == "" {
		return nominal
	}
	if nominal != "" {
		nominal = "   ·   " + nominal
	}
	sty := letters(textSize, muted, 0, 0)
	return cut(safe(h.Name), sty, textWidth-sty.Width(nominal)) + nominal
}

// time is the range of elapsed time: from the start of the recording to the
// end of the last window, or a minute where there is none.
func (r Run) time() span {
	if n := len(r.Windows); n > 0 && r.Windows[n-1].End > 0 && finite(r.Windows[n-1].End) {
		return span{0, r.Windows[n-1].End}
	}
	return span{0, minute}
}

// heard reports whether any beat was.
func (r Run) heard() bool {
	return slices.ContainsFunc(r.Windows, func(w rate.Window) bool { return w.Heard > 0 })
}

// of returns the events of one kind.
func of(events []beat.Event, kind beat.Kind) []beat.Event {
	var some []beat.Event
	for _, e := range events {
		if e.Kind == kind && finite(e.Start) && finite(e.End) {
			some = append(some, e)
		}
	}
	return some
}

// smoothed is the smoothed rate, empty where the windows were not smoothed.
func (r Run) smoothed() curve {
	return r.curve(func(w rate.Window) rate.Value {
		if w.Smoothed == (rate.Value{}) { // never set
			return rate.Value{X: math.NaN()}
		}
		return w.Smoothed
	})
}

// band is the stable band, nil where there is none that could be drawn.
func (r Run) band() *rate.Band {
	if b := r.Band; b != nil && finite(b.Start) && b.End > b.Start && finite(b.End) {
		return b
	}
	return nil
}

// typicalPeriod is the first period of the run in seconds, or 1 without any.
func (r Run) typicalPeriod() float64 {
	for _, w := range r.Windows {
		if w.Period.X > 0 && finite(w.Period.X) {
			return w.Period.X
		}
	}
	return 1
}

// point is a figure with its standard error at a time; all three are finite,
// but for the NaN of a break.
type point struct{ t, x, se float64 }

// curve is a figure in order of time. A point whose figure is NaN breaks it.
type curve []point

// mostPoints is how many points a curve takes: more than a picture has columns
// of dots. Windows that follow each other are averaged to come down to it.
const mostPoints = 2000

// breakTime is how long after its last point a curve breaks, in seconds.
const breakTime = 1e-3

// merged is how many windows one point of a curve is the mean of.
func (r Run) merged() int { return 1 + (len(r.Windows)-1)/mostPoints }

// curve is one figure of the windows, each at the middle of its window, or of
// the part of it in which the movement ran. It breaks where there is no figure,
// and where a stop comes between two.
func (r Run) curve(pick func(rate.Window) rate.Value) curve {
	var c curve
	var group []point
	flush := func() {
		if len(group) > 0 {
			c, group = append(c, mean(group)), group[:0]
		}
	}
	cut := func() {
		flush()
		if n := len(c); n > 0 && finite(c[n-1].x) {
			c = append(c, point{c[n-1].t + breakTime, math.NaN(), 0})
		}
	}
	stops := of(r.Events, beat.Stop)
	next, last := stops, math.Inf(-1)
	for _, w := range r.Windows {
		v, t := pick(w), running(w, stops)
		if !finite(v.X) || !finite(t) {
			cut()
			continue
		}
		for len(next) > 0 && next[0].End <= last {
			next = next[1:]
		}
		if len(next) > 0 && next[0].Start < t {
			cut()
		}
		group, last = append(group, point{t, v.X, known(v.SE)}), t
		if len(group) == r.merged() {
			flush()
		}
	}
	cut()
	return c
}

// known is a standard error, 0 where it is not known, which draws nothing.
func known(se float64) float64 {
	if !finite(se) {
		return 0
	}
	return se
}

// mean is the mean of independent points.
func mean(ps []point) point {
	var m point
	for _, p := range ps {
		m.t, m.x, m.se = m.t+p.t, m.x+p.x, math.Hypot(m.se, p.se)
	}
	n := float64(len(ps))
	return point{m.t / n, m.x / n, m.se / n}
}

// running is the middle of the longest part of a window that no stop takes up;
// of all of it where there is no such part.
func running(w rate.Window, stops []beat.Event) float64 {
	longest := span{w.Start, w.Start}
	from := w.Start
	keep := func(to float64) {
		if to-from > longest.width() {
			longest = span{from, to}
		}
	}
	after, _ := slices.BinarySearchFunc(stops, w.Start, func(e beat.Event, t float64) int { return cmp.Compare(e.End, t) })
	for _, e := range stops[after:] {
		if e.Start >= w.End {
			break
		}
		keep(e.Start)
		from = max(from, e.End)
	}
	keep(w.End)
	if longest.width() == 0 {
		longest.hi = w.End
	}
	return (longest.lo + longest.hi) / 2
}

// known are the points without the breaks.
func (c curve) known() curve {
	return slices.DeleteFunc(slices.Clone(c), func(p point) bool { return !finite(p.x) })
}

// values lists the figures and their standard errors.
func (c curve) values() (xs, ses []float64) {
	for _, p := range c.known() {
		xs, ses = append(xs, p.x), append(ses, p.se)
	}
	return xs, ses
}

// during keeps the points within a band; none where that is nil.
func (c curve) during(band *rate.Band) curve {
	return slices.DeleteFunc(c.known(), func(p point) bool { return band == nil || p.t < band.Start || p.t > band.End })
}

// scaled is the curve in a unit of which there are so many.
func (c curve) scaled(by float64) curve {
	s := slices.Clone(c)
	for i := range s {
		s[i].x, s[i].se = by*s[i].x, by*s[i].se
	}
	return s
}

// series is the curve to be drawn in an ink.
func (c curve) series(name string, ink Ink) Series {
	s := Series{Name: name, Ink: ink}
	for _, p := range c {
		s.X, s.Y = append(s.X, p.t), append(s.Y, p.x)
	}
	return s
}

// line adds a curve to the panel, without bounds.
func (p *Panel) line(c curve, name string, ink Ink, width float64, dash ...float64) {
	s := c.series(name, ink)
	s.Width, s.Dash = width, dash
	p.Series = append(p.Series, s)
}

// bounded is the curve with bounds of so many standard errors.
func (c curve) bounded(name string, ink Ink, errors float64, what string) Series {
	s := c.series(name, ink)
	s.Bounds = what
	for _, p := range c {
		s.Low, s.High = append(s.Low, p.x-errors*p.se), append(s.High, p.x+errors*p.se)
	}
	return s
}
