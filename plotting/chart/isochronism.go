package chart

import (
	"fmt"
	"math"

	"rundown/analysis/rate"
)

// mostDots is how many points a scatter takes; above it, neighbours in time
// are averaged.
const mostDots = 1500

// Isochronism draws rate against amplitude, each window coloured by its
// elapsed time: a flat cloud is an isochronous movement, a slope is not, and a
// curve that comes back on another way changed for another reason.
func Isochronism(r Run) *Figure {
	q, note := amplitude(r.Kind)
	ps, each := pairs(r.Windows, q.pick)
	xs := pairSpan(ps, q.least, func(p pair) rate.Value { return p.x })
	ys := pairSpan(ps, rates.least, func(p pair) rate.Value { return p.y })
	key := elapsedAxis(r.time(), mostTimes)
	p := &Panel{X: valueAxis(q.label, xs, mostTimes, q.signed), Y: valueAxis(rates.label, ys, mostValues, true), Keyed: &key, colours: ages(48)}
	f := newFigure("Isochronism: rate against amplitude", r.Heading, p)
	if len(ps) == 0 {
		p.Banner = r.without("no amplitude with a rate was measured")
		return f
	}
	p.level(0)
	p.addCloud(ps)
	if each > 1 {
		f.note(fmt.Sprintf("Each point is the mean of %d windows that follow each other.", each))
	}
	if n := len(p.Series[len(p.Series)-3].X); n > 0 {
		f.note("Off the scale, drawn as crosses at the edge: " + count(n, "point") + ".")
	}
	f.note(note)
	return f
}

// pair is two figures of the same time.
type pair struct {
	t    float64
	x, y rate.Value
}

// pairs couples amplitude and rate of the windows that have both, so many at a
// time that there are no more than mostDots.
func pairs(ws []rate.Window, pick func(rate.Window) rate.Value) (ps []pair, each int) {
	for _, w := range ws {
		if p := (pair{(w.Start + w.End) / 2, pick(w), w.Rate}); finite(p.t) && finite(p.x.X) && finite(p.y.X) {
			ps = append(ps, p)
		}
	}
	each = max(1, (len(ps)+mostDots-1)/mostDots)
	if each == 1 {
		return ps, 1
	}
	var merged []pair
	for len(ps) > 0 {
		n := min(each, len(ps))
		var x, y []point
		for _, p := range ps[:n] {
			x, y = append(x, point{p.t, p.x.X, p.x.SE}), append(y, point{p.t, p.y.X, p.y.SE})
		}
		a, b := mean(x), mean(y)
		merged = append(merged, pair{a.t, rate.Value{X: a.x, SE: a.se}, rate.Value{X: b.x, SE: b.se}})
		ps = ps[n:]
	}
	return merged, each
}

// pairSpan is the range of the axis of one figure.
func pairSpan(ps []pair, least float64, pick func(pair) rate.Value) span {
	var xs, ses []float64
	for _, p := range ps {
		v := pick(p)
		if !finite(v.SE) {
			v.SE = 0
		}
		xs, ses = append(xs, v.X), append(ses, v.SE)
	}
	return robustSpan(xs, ses, least)
}

// addCloud adds the pairs coloured by their time, with bars of a standard error
// while they are few, those beyond the axes as crosses at the edge, and signs
// about the first and the last.
func (p *Panel) addCloud(ps []pair) {
	dots := Series{Ink: middle, Mark: Dot, Size: 1.7}
	beyond := Series{Ink: ink, Mark: Cross, Size: 2.5}
	few := len(ps) <= fewPoints
	for _, q := range ps {
		if !p.X.span().contains(q.x.X) || !p.Y.span().contains(q.y.X) {
			x, y := p.inside(q)
			beyond.X, beyond.Y = append(beyond.X, x), append(beyond.Y, y)
			continue
		}
		dots.X, dots.Y, dots.Shade = append(dots.X, q.x.X), append(dots.Y, q.y.X), append(dots.Shade, q.t)
		if few {
			dots.Low, dots.High = append(dots.Low, q.y.X-known(q.y.SE)), append(dots.High, q.y.X+known(q.y.SE))
			dots.XError = append(dots.XError, known(q.x.SE))
		}
	}
	if few {
		dots.Name, dots.Bounds = "windows", OneError
	}
	p.Series = append(p.Series, dots, beyond)
	for _, end := range []struct {
		name string
		of   pair
		mark Mark
	}{{"first", ps[0], Circle}, {"last", ps[len(ps)-1], Square}} {
		x, y := p.inside(end.of)
		p.Series = append(p.Series, Series{Name: end.name, X: Numbers{x}, Y: Numbers{y}, Ink: ink, Mark: end.mark, Size: 4})
	}
}

// known is an error, 0 where it is not known.
func known(se float64) float64 {
	if !finite(se) {
		return 0
	}
	return math.Abs(se)
}

// inside moves a pair that lies beyond the panel to just within its edge.
func (p *Panel) inside(q pair) (x, y float64) {
	within := func(v float64, s span) float64 {
		edge := s.width() / 100
		return span{s.lo + edge, s.hi - edge}.clamp(v)
	}
	return within(q.x.X, p.X.span()), within(q.y.X, p.Y.span())
}
