package chart

import (
	"fmt"
	"math"
	"slices"
	"strings"

	"rundown/analysis/beat"
	"rundown/analysis/prose"
	"rundown/analysis/rate"
)

// quantity is a figure of the windows that is drawn against elapsed time.
type quantity struct {
	name   string
	unit   string
	hint   string // along the axis, after the unit
	pick   func(rate.Window) rate.Value
	signed bool
	least  float64 // the narrowest range that is worth a whole axis
	focus  bool    // the stable band is what matters most
}

// axis is the axis of the quantity.
func (q quantity) axis(s span, most int) Axis {
	a := valueAxis(q.name+" ("+q.unit+")"+q.hint, s, most, q.signed)
	a.Unit = q.unit
	return a
}

const (
	// fewPoints is up to how many windows are drawn one by one, with bars.
	fewPoints = 100
	// mostTimes and mostValues are how many labels the axes take.
	mostTimes, mostValues = 10, 7
)

// rates is the rate as a quantity. A second a day is the narrowest axis: less
// than that is lost in the clock of most recorders.
var rates = quantity{
	name: "rate", unit: "s/day", hint: ", gaining is +", signed: true, least: 1, focus: true,
	pick: func(w rate.Window) rate.Value { return w.Rate },
}

// Rate draws the drift chart: rate in seconds a day against elapsed time with
// its standard error, the smoothed curve, the stable band with its width,
// length and mean, stops, and under it one lane for each kind of event that
// occurred, with the number of them.
func Rate(r Run) *Figure {
	smooth := r.smoothed()
	f := drift(r, rates, smooth)
	p := f.Panels[0]
	b := r.band()
	if b == nil && r.heard() {
		f.note(noBand(r.Windows))
	}
	if b != nil {
		p.Areas[0].Name = bandText(b)
		edges := bandEdges(b, smooth)
		for _, y := range []float64{edges.lo, edges.hi} {
			p.Series = append(p.Series, Series{X: Numbers{b.Start, b.End}, Y: Numbers{y, y}, Ink: ink, Width: 0.6, Dash: []float64{4, 2}})
		}
	}
	f.note(r.Note)
	f.addLanes(r)
	return f
}

// noBand says why there is no stable band.
func noBand(ws []rate.Window) string {
	if rate.TooShort(ws) {
		return "There is no stable band: it takes three whole windows, and the run is too short."
	}
	return "There is no stable band: the rate is nowhere steady enough."
}

// Period draws the period of the oscillator, two beats, in milliseconds
// against elapsed time.
func Period(r Run) *Figure {
	return drift(r, quantity{
		name: "period", unit: "ms", hint: ", two beats",
		pick:  scaled(1e3, func(w rate.Window) rate.Value { return w.Period }),
		least: 1e3 * r.typicalPeriod() / day, // what a second a day comes to
		focus: true,
	}, nil)
}

// BeatError draws the beat error in milliseconds against elapsed time: half of
// tick-to-tock minus tock-to-tick.
func BeatError(r Run) *Figure {
	f := drift(r, quantity{
		name: "beat error", unit: "ms", signed: true, least: 0.1,
		pick: scaled(1e3, func(w rate.Window) rate.Value { return w.BeatError }),
	}, nil)
	if r.heard() {
		f.note("Most of each bar is one error that all windows share, of setting the sound of a tick against that of a tock: the course is surer than its level.")
	}
	return f
}

// Amplitude draws the amplitude against elapsed time, or what stands in for
// it: lift time in milliseconds, or level in dBFS.
func Amplitude(r Run) *Figure {
	q, note := amplitude(r.Kind)
	f := drift(r, q, nil)
	f.note(note)
	return f
}

// amplitude is the amplitude of a kind as a quantity, and what must be said of
// it.
func amplitude(kind rate.AmplitudeKind) (q quantity, note string) {
	const shared = "Much of each bar is one error that all windows share, of where the lift begins and ends: the course is surer than its level."
	pick := func(w rate.Window) rate.Value { return w.Amplitude }
	switch kind {
	case rate.Degrees:
		return quantity{name: "amplitude", unit: "degrees", pick: pick, least: 2}, shared
	case rate.LiftTime:
		return quantity{name: "lift time", unit: "ms", pick: scaled(1e3, pick), least: 0.1},
			"Lift time stands in for amplitude: the shorter it is, the larger the amplitude. With the lift angle it could be given in degrees. " + shared
	}
	return quantity{name: "level of the beats", unit: "dBFS", signed: true, pick: pick, least: 1},
		"Level stands in for amplitude: louder beats go with a larger one, but a microphone that was moved looks the same."
}

// scaled picks a figure in a unit of which a second has so many.
func scaled(by float64, pick func(rate.Window) rate.Value) func(rate.Window) rate.Value {
	return func(w rate.Window) rate.Value {
		v := pick(w)
		return rate.Value{X: by * v.X, SE: by * v.SE}
	}
}

// drift draws a quantity against elapsed time, and a smoothed curve through it
// unless that is empty.
func drift(r Run, q quantity, smooth curve) *Figure {
	c := r.curve(q.pick)
	p := &Panel{X: elapsedAxis(r.time(), mostTimes), Y: q.axis(q.span(c, smooth, r.band()), mostValues)}
	p.Under = r.Turns.axis(r.time())
	if b := r.band(); b != nil {
		p.Areas = append(p.Areas, Area{Name: "stable band", Ink: wash, Boxes: [][4]float64{p.upright(span{b.Start, b.End})}})
	}
	if stops := of(r.Events, beat.Stop); len(stops) > 0 {
		stopped := Area{Name: "stopped", Ink: still}
		for _, e := range stops {
			stopped.Boxes = append(stopped.Boxes, p.upright(span{e.Start, e.End}))
		}
		p.Areas = append(p.Areas, stopped)
	}
	f := newFigure(strings.ToUpper(q.name[:1])+q.name[1:]+" against elapsed time", r.Heading, p)
	if p.Under != nil {
		f.height += scaleHeight
	}
	if len(c) == 0 {
		p.Y.Ticks = nil
		p.Banner = r.without("no " + q.name + " was measured")
		return f
	}
	if q.signed {
		p.level(0)
	}
	p.Series = append(p.Series, r.windows(c, len(smooth) > 0))
	if len(smooth) > 0 {
		p.line(smooth, "smoothed", dark, 1.3)
	}
	f.note(q.offScale(c, p.Y.span()))
	return f
}

// without is what to say where there is no figure.
func (r Run) without(none string) string {
	if !r.heard() {
		return "no beat was heard"
	}
	return none
}

// windows is the curve of the windows with their standard errors: behind a
// smoothed one if there is that, and one by one while they are few.
func (r Run) windows(c curve, smoothed bool) Series {
	s := c.bounded(r.each(), dark, 1, OneError)
	s.Strays = true
	switch {
	case len(c) <= fewPoints:
		s.Mark, s.Size = Dot, 1.3
		if !smoothed {
			s.Width = 0.6
		}
	case smoothed:
		s.Band, s.Ink, s.Width = &pale, middle, 0.5
	default:
		s.Band, s.Width = &pale, 0.8
	}
	return s
}

// each says what one point of a curve is.
func (r Run) each() string {
	one := lasting(r.Windows[0].End - r.Windows[0].Start)
	if n := r.merged(); n > 1 {
		return fmt.Sprintf("means of %d windows of %s", n, one)
	}
	return "windows of " + one
}

// span is the range of the axis: that of the windows, and all of the smoothed
// curve that lies within half as much again. Where the band matters most, what
// happens in it takes up a fifth of the height, though the beginning and the end
// of a run-down may then fall out of the picture; at most a tenth of the windows
// do so on either side.
func (q quantity) span(c, smooth curve, band *rate.Band) span {
	xs, ses := c.values()
	r := robustSpan(xs, ses, q.least)
	wide := span{r.lo - r.width()/4, r.hi + r.width()/4}
	for _, p := range smooth.known() {
		r = r.including(wide.clamp(p.x))
	}
	inside, errors := c.during(band).values()
	if !q.focus || len(inside) == 0 {
		return r
	}
	inner := robustSpan(inside, errors, q.least)
	slices.Sort(xs)
	return span{
		lo: max(r.lo, min(inner.lo-2*inner.width(), quantile(xs, 0.1))),
		hi: min(r.hi, max(inner.hi+2*inner.width(), quantile(xs, 0.9))),
	}
}

// offScale says how many points the axis leaves out, and how far they reach.
func (q quantity) offScale(c curve, shown span) string {
	n, furthest := 0, point{}
	for _, p := range c.known() {
		if off := math.Abs(p.x - shown.clamp(p.x)); off > 0 {
			if n == 0 || off > math.Abs(furthest.x-shown.clamp(furthest.x)) {
				furthest = p
			}
			n++
		}
	}
	if n == 0 {
		return ""
	}
	write := prose.Unsigned
	if q.signed {
		write = prose.Signed
	}
	return fmt.Sprintf("Off the scale, marked by triangles at the edge: %s, the furthest of %s %s at %s.",
		count(n, "point"), write(furthest.x, decimals(q.least)+1), q.unit, clock(furthest.t))
}

// bandText says how wide the band is, what its mean is and how long it lasts.
func bandText(b *rate.Band) string {
	text := "stable band: "
	if finite(b.Spread) {
		text += prose.Unsigned(b.Spread, 1) + " s/day wide, "
	}
	if finite(b.Mean.X) {
		text += "mean " + withError(b.Mean.X, b.Mean.SE, "s/day") + ", "
	}
	return text + "lasts " + lasting(b.End-b.Start)
}

// bandEdges is the range of the smoothed rate within the band; without a
// smoothed rate, the band's spread about its mean.
func bandEdges(b *rate.Band, smooth curve) span {
	xs, _ := smooth.during(b).values()
	if len(xs) == 0 {
		return span{b.Mean.X - b.Spread/2, b.Mean.X + b.Spread/2}
	}
	return span{slices.Min(xs), slices.Max(xs)}
}

// leastTurns is the part of a turn below which an axis of turns says nothing.
const leastTurns = 0.1

// axis is the second scale under a chart, in turns of the arbor; t may be nil.
func (t *Turns) axis(time span) *Axis {
	if t == nil || !(t.Each > 0) || !finite(t.Start) || (time.hi-t.Start)/t.Each < leastTurns {
		return nil
	}
	a := valueAxis("turns of the "+arborName(t.Name), span{(time.lo - t.Start) / t.Each, (time.hi - t.Start) / t.Each}, mostTimes, false)
	for len(a.Ticks) > 0 && a.Ticks[0].Value < 0 {
		a.Ticks = a.Ticks[1:]
	}
	return &a
}
