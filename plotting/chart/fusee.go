package chart

import (
	"fmt"
	"math"
	"slices"

	"rundown/analysis/fusee"
	"rundown/analysis/prose"
)

// unwound is the axis of the turns of the barrel, from one to another.
func unwound(from, to float64) Axis {
	a := valueAxis("turns of the barrel unwound from full wind", span{from, to}, mostTimes, false)
	a.Unit = "turns"
	return a
}

// fitting is an axis over all figures of some series that are known, with a margin, no
// narrower than least.
func fitting(label, unit string, least float64, signed bool, series ...Series) Axis {
	all := span{math.Inf(1), math.Inf(-1)}
	for _, s := range series {
		for _, ys := range []Numbers{s.Y, s.Low, s.High} {
			for _, y := range ys {
				if finite(y) {
					all = all.including(y)
				}
			}
		}
	}
	if all.lo > all.hi {
		all = span{0, 0}
	}
	margin := max(all.width()*0.06, (least-all.width())/2)
	a := valueAxis(label+" ("+unit+")", span{all.lo - margin, all.hi + margin}, mostValues, signed)
	a.Unit = unit
	return a
}

// Torque draws the torque of a spring against the turns of its barrel: as it was measured,
// in both directions where it was, and the smooth curve with its standard error, and over
// which turns a fusee and stop-work use it.
func Torque(h Heading, r *fusee.Result) *Figure {
	unit, scale := "% of the greatest", func(m float64) float64 { return m }
	if !r.Proxy() {
		unit, scale = r.Units.TorqueUnit(), r.Units.Torque
	}
	c := r.Torque
	smooth := Series{Name: "smooth curve", Bounds: OneError, Band: &pale, Ink: dark, Width: 1.2}
	const points = 400
	for i := range points + 1 {
		x := c.Start() + (c.End()-c.Start())*float64(i)/points
		se, _ := c.Errors(x)
		y, se := scale(c.At(x)), scale(se)
		smooth.X, smooth.Y = append(smooth.X, x), append(smooth.Y, y)
		smooth.Low, smooth.High = append(smooth.Low, y-se), append(smooth.High, y+se)
	}
	series := []Series{smooth}
	if !r.Proxy() {
		series = append(series, measured("measured as it runs down", r.Table.Turns, r.Table.Down, scale, Dot, dark))
		if r.BothWays {
			series = append(series, measured("measured as it is wound", r.Table.Turns, r.Table.Up, scale, Ring, rust))
		}
	}
	p := &Panel{X: unwound(min(0, c.Start()), c.End()), Y: fitting("torque", unit, 0, false, append(series, Series{Y: Numbers{0}})...)}
	if f := r.Fusee; f != nil {
		p.Areas = append(p.Areas, Area{Name: fmt.Sprintf("the fusee uses %.2f to %.2f", f.From, f.To), Ink: wash, Boxes: [][4]float64{p.upright(span{f.From, f.To})}})
	}
	if k, s := r.Best(); k != nil {
		y := p.Y.Low + p.Y.span().width()*0.03
		series = append(series, Series{Name: fmt.Sprintf("without a fusee, stop-work keeps %.2f to %.2f", s.From, s.To), X: Numbers{s.From, s.To}, Y: Numbers{y, y}, Ink: rust, Width: 3})
	}
	p.Series = series
	f := newFigure("Torque of the spring", h, p)
	if r.Proxy() {
		f.note("No torque was measured: the run's amplitude stands in for it, and tells its shape alone.")
	}
	return f
}

// measured are the points of a table.
func measured(name string, x, y []float64, scale func(float64) float64, mark Mark, ink Ink) Series {
	s := Series{Name: name, X: x, Ink: ink, Mark: mark, Size: 2}
	for _, v := range y {
		s.Y = append(s.Y, scale(v))
	}
	return s
}

// StopWork draws by how much the torque changes over the steadiest stretch of each number
// of turns kept, and where there is a run, its rate.
func StopWork(h Heading, r *fusee.Result) *Figure {
	torques := Series{Name: "torque, in its steadiest stretch", Ink: dark, Width: 1, Mark: Dot, Size: 2}
	rates := Series{Name: "rate, in its steadiest stretch", Ink: dark, Width: 1, Mark: Dot, Size: 2}
	for _, k := range r.Kept {
		torques.X, torques.Y = append(torques.X, k.Turns), append(torques.Y, k.ByTorque.Spread)
		if k.ByRate != nil {
			rates.X, rates.Y = append(rates.X, k.Turns), append(rates.Y, k.ByRate.Spread)
		}
	}
	kept := valueAxis("turns kept", span{0, r.Torque.End() - r.Torque.Start()}, mostTimes, false)
	kept.Unit = "turns"
	torque := &Panel{X: kept, Y: fitting("torque changes by", "%", 1, false, torques, Series{Y: Numbers{0}}), Series: []Series{torques}}
	f := newFigure("Stop-work: what is kept, and how steady it is", h, torque)
	judged, tolerance, unit := torque, r.Uneven, "%"
	if r.ByRate() {
		rate := &Panel{X: kept, Y: fitting("rate changes by", "s/day", 1, false, rates, Series{Y: Numbers{0}}), Series: []Series{rates}}
		if len(rates.X) == 0 {
			rate.Series, rate.Banner = nil, "the run does not cover half a turn"
		}
		judged, tolerance, unit = rate, r.Tolerance, "s/day"
		torque.X.mute = true
		f.Panels, f.height = append(f.Panels, rate), 420
	}
	if judged.Y.span().contains(tolerance) {
		judged.Series = append(judged.Series, Series{Name: "tolerance, " + prose.Unsigned(tolerance, 1) + " " + unit, X: Numbers{kept.Low, kept.High}, Y: Numbers{tolerance, tolerance}, Ink: muted, Width: 0.6, Dash: []float64{4, 2}})
	}
	if k, s := r.Best(); k != nil {
		judged.Series = append(judged.Series, Series{Name: fmt.Sprintf("recommended: %.1f turns, from %.2f to %.2f", k.Turns, s.From, s.To), X: Numbers{k.Turns}, Y: Numbers{s.Spread}, Ink: rust, Mark: Square, Size: 4})
	}
	return f
}

// Evenness draws the torque with a fusee over its turns, in percent of its mean: beside the
// barrel's own and with half a turn more set-up above, and close up as the rounded table
// leaves it below. r must have a fusee.
func Evenness(h Heading, r *fusee.Result) *Figure {
	f := r.Fusee
	percent := func(name string, c fusee.Carried) Series {
		s := Series{Name: name}
		for i := len(c.Torque) - 1; i >= 0; i-- {
			s.X, s.Y = append(s.X, f.Turns-c.Turn[i]), append(s.Y, 100*c.Torque[i]/c.Mean())
		}
		return s
	}
	own := Series{Name: "torque of the barrel alone", Ink: middle, Width: 1}
	cut := percent("with the fusee, as its table has it", r.Trials[fusee.AsCut].Carried)
	cut.Ink, cut.Width = dark, 1.2
	mean := r.Torque.Work(f.From, f.To) / (2 * math.Pi * f.BarrelTurns)
	for i, barrel := range r.Trials[fusee.AsCut].Carried.Barrel {
		own.X, own.Y = append(own.X, cut.X[i]), append(own.Y, 100*r.Torque.At(barrel)/mean)
	}
	slices.Reverse(own.Y)
	series := []Series{own, cut}
	if t := r.Trials[fusee.MoreSetUp]; t.Possible {
		more := percent("with half a turn more set-up", t.Carried)
		more.Ink, more.Width, more.Dash = rust, 1, []float64{5, 2.5}
		series = append(series, more)
	}
	all := &Panel{X: along(f), Y: fitting("torque", "% of the mean", 1, false, series...), Series: series}
	all.X.mute = true
	cut.Name = ""
	near := &Panel{X: along(f), Y: fitting("close up", "% of the mean", 0.1, false, cut), Series: []Series{cut}}
	near.level(100)
	fig := newFigure("Torque with the fusee", h, all, near)
	fig.height = 420
	fig.note(fmt.Sprintf("The torque table itself leaves %.2g %% uncertain somewhere in these turns: less than that in the close view means nothing.", r.Doubt))
	return fig
}

// along is the axis of a wind: from the small end of the groove, where it begins, to the
// large one.
func along(f *fusee.Fusee) Axis {
	a := valueAxis("turns of the fusee from full wind", span{0, f.Turns}, mostTimes, false)
	a.Unit = "turns"
	return a
}

// EvenedRate draws the rate of a run over the turns of the barrel, as it is and as it would
// be with a fusee, with its standard error. r must have an evened rate.
func EvenedRate(h Heading, r *fusee.Result) *Figure {
	e := r.Evened
	before := Series{Name: "as it is", X: e.Turns, Y: e.Before, Ink: middle, Width: 1}
	after := Series{Name: "with the fusee", X: e.Turns, Bounds: OneError, Band: &pale, Ink: dark, Width: 1.2}
	for _, v := range e.After {
		after.Y = append(after.Y, v.X)
		after.Low, after.High = append(after.Low, v.X-v.SE), append(after.High, v.X+v.SE)
	}
	p := &Panel{X: unwound(r.Fusee.From, r.Fusee.To), Y: fitting("rate", "s/day", 1, true, before, after), Series: []Series{after, before}}
	p.level(0)
	f := newFigure("Rate with the fusee", h, p)
	f.note("One run cannot tell what the torque did to its rate from what time did, as temperature may: all of it is put to the torque.")
	return f
}
