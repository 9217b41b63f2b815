package chart

import (
	"cmp"
	"fmt"
	"math"
	"slices"

	"rundown/analysis/fault"
	"rundown/analysis/prose"
	"rundown/analysis/rate"
)

// Turn is what one turn of an arbor does to the beats, averaged over a run.
type Turn struct {
	Arbor string  // its name: "escape wheel", "third wheel"
	Beats float64 // beats in one turn; may be fractional
	Teeth int     // teeth of its wheel, by which positions are numbered; 0 numbers them by beats
	Turns int     // whole turns averaged
	// Mean is the deviation of the beats from their places in seconds,
	// positive when late, by position: equal parts of the turn, the first of
	// which begins with beat 0. NaN where no beat was heard.
	Mean []rate.Value
	// Last is the number of the last beat heard, negative where that is not
	// known: it tells where the wheel came to rest.
	Last int64
	// Elsewhere, if not nil, is the recurrence with which events come round that
	// Mean leaves out, since it is not this arbor's.
	Elsewhere *fault.Recurrence
}

// twoSided is how many standard errors either side hold 95 % of a normal
// distribution.
const twoSided = 1.96

// Fold draws the mean deviation of the beats by their position in the turn of
// an arbor with its 95 % band, the positions numbered by tooth so that a maker
// can mark one, step the wheel on and find any other. Recurrences that have
// the same period, to half a percent, are marked by arrows.
func Fold(h Heading, t Turn, recurrences []fault.Recurrence) *Figure {
	if !(t.Beats > 0) {
		panic("chart: a turn without beats")
	}
	c := t.points()
	unit, scale := "ms", 1e3
	if c.largest() < 2e-4 {
		unit, scale = "µs", 1e6
	}
	c = c.scaled(scale)
	p := &Panel{X: t.axis(), Y: valueAxis("mean deviation ("+unit+"), late is +", bandSpan(c), mostValues, true)}
	p.Areas = append(p.Areas, t.zebra(p))
	f := newFigure("Mean deviation by position in one turn of the "+arborName(t.Arbor), h, p)
	if len(c.known()) == 0 {
		p.Banner = "no whole turn was heard"
		return f
	}
	p.level(0)
	t.addBand(p, c)
	p.pin(recurrences, func(r fault.Recurrence) (float64, bool) {
		return t.position(r.PhaseBeats), r.ComesRoundIn(t.Beats)
	})
	f.note(t.extremes(c.known(), unit))
	f.note(t.howToFind())
	if e := t.Elsewhere; e != nil {
		by := ""
		if e.Match != "" {
			by = " (" + e.Match + ")"
		}
		f.note(fmt.Sprintf("The time that hesitations cost is left out: they come round every %.6g beats%s.", e.PeriodBeats, by))
	}
	return f
}

// position is the place on the axis of a beat number: the middle of the part
// of the turn that the beat takes.
func (t Turn) position(beat float64) float64 {
	within := math.Mod(beat, t.Beats)
	if within < 0 {
		within += t.Beats
	}
	if t.Teeth == 0 {
		return within
	}
	return 0.5 + math.Mod(within+0.5, t.Beats)/t.Beats*float64(t.Teeth)
}

// pitch is the distance from one beat to the next along the axis.
func (t Turn) pitch() float64 {
	if t.Teeth == 0 {
		return 1
	}
	return float64(t.Teeth) / t.Beats
}

// positions is the range of the axis: a tooth, or a beat, lies about its
// number.
func (t Turn) positions() span {
	if t.Teeth == 0 {
		return span{-0.5, max(t.Beats, 1) - 0.5}
	}
	return span{0.5, float64(t.Teeth) + 0.5}
}

// tooth is the number of the tooth at a position.
func (t Turn) tooth(position float64) int {
	return min(max(int(math.Round(position)), 1), t.Teeth)
}

// points is the mean deviation at each position, in seconds.
func (t Turn) points() curve {
	c := make(curve, len(t.Mean))
	r := t.positions()
	for i, v := range t.Mean {
		c[i] = point{r.lo + r.width()*(float64(i)+0.5)/float64(len(t.Mean)), v.X, known(v.SE)}
		if !finite(v.X) {
			c[i].x = math.NaN()
		}
	}
	return c
}

// axis numbers the positions.
func (t Turn) axis() Axis {
	r := t.positions()
	s := step{1, 1}
	if r.width() > 36 {
		s = valueStep(r.lo, r.hi, 20)
		s = step{math.Max(s.major, 1), math.Max(s.minor, 1)}
	}
	label := "beat of the turn"
	if t.Teeth > 0 {
		label = "tooth of the " + arborName(t.Arbor)
	}
	return Axis{Label: label, Low: r.lo, High: r.hi, Ticks: spread(r.lo, r.hi, s, func(v float64) string { return prose.Unsigned(v, 0) })}
}

// zebra shades every other tooth while they are wide enough to tell apart.
func (t Turn) zebra(p *Panel) Area {
	z := Area{Ink: shade}
	for n := 2; n <= t.Teeth && t.Teeth <= 100; n += 2 {
		z.Boxes = append(z.Boxes, p.upright(span{float64(n) - 0.5, float64(n) + 0.5}))
	}
	return z
}

// mostPositions is up to how many positions are drawn one by one.
const mostPositions = 80

// addBand adds the mean with its 95 % band: points with bars, or a line in a
// ribbon where there are many. Where every position is that of one beat, and so
// of one side, ticks and tocks are told apart.
func (t Turn) addBand(p *Panel, c curve) {
	over := fmt.Sprintf("mean of %s", count(t.Turns, "turn"))
	s := c.bounded(over, dark, twoSided, Interval)
	if len(c.known()) > mostPositions {
		s.Band, s.Width = &pale, 0.9
		p.Series = append(p.Series, s)
		return
	}
	p.line(c, "", middle, 0.5)
	s.Mark, s.Size = Dot, 2
	if n := len(t.Mean); n%2 != 0 || math.Abs(t.Beats-float64(n)) > 1e-6 {
		p.Series = append(p.Series, s)
		return
	}
	var ticks, tocks curve
	for i := 0; i < len(c); i += 2 {
		ticks, tocks = append(ticks, c[i]), append(tocks, c[i+1])
	}
	tick, tock := ticks.bounded(over+", tick", dark, twoSided, Interval), tocks.bounded("tock", rust, twoSided, Interval)
	tick.Mark, tick.Size, tock.Mark, tock.Size = Dot, 2, Ring, 2
	p.Series = append(p.Series, tick, tock)
}

// extremes names the latest and the earliest position.
func (t Turn) extremes(c curve, unit string) string {
	say := func(p point) string {
		v := withError(p.x, p.se, unit)
		if t.Teeth == 0 {
			return fmt.Sprintf("beat %s (%s)", prose.Unsigned(p.t, 0), v)
		}
		return fmt.Sprintf("tooth %d (%s)", t.tooth(p.t), v)
	}
	bySize := func(a, b point) int { return cmp.Compare(a.x, b.x) }
	return "Latest at " + say(slices.MaxFunc(c, bySize)) + ", earliest at " + say(slices.MinFunc(c, bySize)) + "."
}

// howToFind says where the count of teeth begins.
func (t Turn) howToFind() string {
	if t.Teeth == 0 {
		return "Beats are counted from the first one heard."
	}
	s := "Teeth are numbered in the order in which they come into action, from 1 at the first beat."
	if math.Abs(t.Beats-2*float64(t.Teeth)) < 1e-6 {
		s += " On an escape wheel each tooth meets both pallets: a bad one may show at a tick and, some teeth on, at a tock."
	}
	if t.Last < 0 {
		return s + " What can be found again is the distance from one tooth to another."
	}
	return s + fmt.Sprintf(" Tooth %d was in action at the last beat: if the wheel still stands there, mark it and count on.", t.tooth(t.position(float64(t.Last))))
}

// largest is the greatest size of a figure.
func (c curve) largest() float64 {
	most := 0.0
	for _, p := range c.known() {
		most = max(most, math.Abs(p.x))
	}
	return most
}

// bandSpan is the range of an axis for all points of a curve with their 95 %
// bands, save bands much wider than the others.
func bandSpan(c curve) span {
	xs, ses := c.values()
	if len(xs) == 0 {
		return span{-1, 1}
	}
	typical := robustSpan(ses, ses, 0).hi
	r := span{min(0, xs[0]), max(0, xs[0])}
	for i, x := range xs {
		e := twoSided * min(ses[i], typical)
		r = r.including(x - e).including(x + e)
	}
	if r.width() == 0 {
		return span{-1, 1}
	}
	return span{r.lo - r.width()/20, r.hi + r.width()/20}
}
