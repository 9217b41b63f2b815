package chart

import (
	"fmt"
	"math"

	"rundown/analysis/rate"
)

// Isochronism draws rate against amplitude, each window coloured by its
// elapsed time: a flat cloud is an isochronous movement, a slope is not, and a
// curve that comes back on another way changed for another reason.
func Isochronism(r Run) *Figure {
	q, note := amplitude(r.Kind)
	x, y := r.pairs(q.pick)
	xs, xErrors := x.values()
	ys, yErrors := y.values()
	key := elapsedAxis(r.time(), mostTimes)
	p := &Panel{
		X: q.axis(robustSpan(xs, xErrors, q.least), mostTimes), Y: rates.axis(robustSpan(ys, yErrors, rates.least), mostValues),
		Keyed: &key, colours: ages(48),
	}
	f := newFigure("Isochronism: rate against amplitude", r.Heading, p)
	if len(x) == 0 {
		p.Banner = r.without("no amplitude with a rate was measured")
		return f
	}
	p.level(0)
	beyond := p.addCloud(x, y)
	if n := r.merged(); n > 1 {
		f.note(fmt.Sprintf("Each point is the mean of %d windows that follow each other.", n))
	}
	if beyond > 0 {
		f.note("Off the scale, drawn as crosses at the edge: " + count(beyond, "point") + ".")
	}
	f.note(note)
	return f
}

// pairs are amplitude and rate where there are both, point by point.
func (r Run) pairs(pick func(rate.Window) rate.Value) (x, y curve) {
	both := func(of func(rate.Window) rate.Value) curve {
		return r.curve(func(w rate.Window) rate.Value {
			if !finite(pick(w).X) || !finite(w.Rate.X) {
				return rate.Value{X: math.NaN()}
			}
			return of(w)
		}).known()
	}
	return both(pick), both(rates.pick)
}

// addCloud adds pairs coloured by their time, with bars of a standard error
// while they are few, signs about the first and the last, and those beyond the
// axes as crosses at the edge, of which it returns the number.
func (p *Panel) addCloud(x, y curve) (beyond int) {
	dots, crosses := Series{Ink: middle, Mark: Dot, Size: 1.7}, Series{Ink: ink, Mark: Cross, Size: 2.5}
	few := len(x) <= fewPoints
	for i := range x {
		if !p.X.span().contains(x[i].x) || !p.Y.span().contains(y[i].x) {
			crosses.X, crosses.Y = append(crosses.X, p.X.inside(x[i].x)), append(crosses.Y, p.Y.inside(y[i].x))
			continue
		}
		dots.X, dots.Y, dots.Shade = append(dots.X, x[i].x), append(dots.Y, y[i].x), append(dots.Shade, x[i].t)
		if few {
			dots.Low, dots.High = append(dots.Low, y[i].x-y[i].se), append(dots.High, y[i].x+y[i].se)
			dots.XError = append(dots.XError, x[i].se)
		}
	}
	if few {
		dots.Name, dots.Bounds = "windows", OneError
	}
	end := func(name string, i int, mark Mark) Series {
		return Series{Name: name, X: Numbers{p.X.inside(x[i].x)}, Y: Numbers{p.Y.inside(y[i].x)}, Ink: ink, Mark: mark, Size: 4}
	}
	p.Series = append(p.Series, dots, crosses, end("first", 0, Circle), end("last", len(x)-1, Square))
	return len(crosses.X)
}

// inside moves a value that lies beyond the axis to just within its edge.
func (a Axis) inside(v float64) float64 {
	edge := a.span().width() / 100
	return span{a.Low + edge, a.High - edge}.clamp(v)
}
