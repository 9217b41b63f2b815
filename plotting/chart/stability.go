package chart

import (
	"math"

	"gonum.org/v1/plot"
	"gonum.org/v1/plot/vg"
	"gonum.org/v1/plot/vg/draw"

	"rundown/analysis/rate"
)

// Floor is a limit that some thing sets to what can be measured.
type Floor struct {
	Name       string
	Tau, Sigma []float64 // of equal length: averaging times in s, fractional rate
}

// perDay is a rate of one part per million in seconds a day.
const perDay = 0.0864

// Stability draws the Allan deviation against averaging time on logarithmic
// axes, in parts per million and in seconds a day, with its 95 % band, the
// floor that the scatter of the beats sets, and any further floors.
func Stability(h Heading, stabilities []rate.Stability, floors ...Floor) *Figure {
	for _, f := range floors {
		if len(f.Tau) != len(f.Sigma) {
			panic("chart: a floor with times and deviations of unequal number")
		}
	}
	f := newFigure("Stability: Allan deviation against averaging time", h)
	shown := drawable(stabilities)
	floors = append([]Floor{scatterFloor(shown)}, floors...)
	times, values := stabilitySpans(shown, floors)
	p := newPanel(times, values)
	p.plot.X.Scale, p.plot.Y.Scale = plot.LogScale{}, plot.LogScale{}
	p.bottom = axis{"averaging time", logTimes(times)}
	p.left = axis{"Allan deviation (parts per million)", logTicks(values)}
	p.right = axis{"as a rate (s/day)", logTicks(span{values.lo * perDay, values.hi * perDay})}
	for i := range p.right.ticks {
		p.right.ticks[i].Value /= perDay
	}
	p.plot.Add(grid{p.bottom.ticks, p.left.ticks})
	f.rows = [][]*panel{{p}}
	if len(shown) == 0 {
		p.banner = "the run is too short"
		return f
	}
	band, curve := confidenceBand{shown}, deviations{shown}
	p.plot.Add(band, curve)
	f.explain(curve, "this run")
	f.explain(band, "95 % band")
	for i, fl := range floors {
		if side := fl.beyond(values); side != "" {
			f.note("The floor of the " + safe(fl.Name) + " lies " + side + " the scale.")
			continue
		}
		l := floorLine{fl, [][]vg.Length{{5, 2}, {1.5, 1.5}, {6, 2, 1.5, 2}}[i%3]}
		p.plot.Add(l)
		f.explain(l, "floor: "+safe(fl.Name))
	}
	f.note("The lower a point, the less the rate changes from one stretch of that length to the next. A floor is the least that could have been measured.")
	return f
}

// beyond is "below" or "above" where all of a floor lies there of the values
// shown, in parts per million.
func (f Floor) beyond(shown span) string {
	low, high := math.Inf(1), math.Inf(-1)
	for _, s := range f.Sigma {
		if s > 0 && finite(s) {
			low, high = min(low, s*1e6), max(high, s*1e6)
		}
	}
	switch {
	case low > high: // none is known
	case high < shown.lo:
		return "below"
	case low > shown.hi:
		return "above"
	}
	return ""
}

// scatterFloor is the floor that comes with the stabilities.
func scatterFloor(ss []rate.Stability) Floor {
	f := Floor{Name: "scatter of the beats"}
	for _, s := range ss {
		f.Tau, f.Sigma = append(f.Tau, s.Tau), append(f.Sigma, s.AllanFloor)
	}
	return f
}

// drawable keeps the stabilities that a logarithmic axis can show.
func drawable(ss []rate.Stability) []rate.Stability {
	var kept []rate.Stability
	for _, s := range ss {
		if s.Tau > 0 && s.Allan > 0 && finite(s.Tau) && finite(s.Allan) {
			kept = append(kept, s)
		}
	}
	return kept
}

// stabilitySpans are the ranges of the axes, values in parts per million: all
// deviations with their intervals, and of the floors what lies within a decade
// below.
func stabilitySpans(ss []rate.Stability, floors []Floor) (times, values span) {
	if len(ss) == 0 {
		return span{1, hour}, span{0.1, 100}
	}
	times, values = span{ss[0].Tau, ss[0].Tau}, span{ss[0].Allan, ss[0].Allan}
	for _, s := range ss {
		times = times.including(s.Tau)
		for _, v := range []float64{s.Allan, s.AllanLow, s.AllanHigh} {
			// The longest averaging times are hardly known: their intervals
			// count no further than a decade.
			if finite(v) && v > 0 {
				values = values.including(span{s.Allan / 10, s.Allan * 10}.clamp(v))
			}
		}
	}
	near := span{values.lo / 10, values.hi}
	for _, f := range floors {
		for i, s := range f.Sigma {
			if times.contains(f.Tau[i]) && near.contains(s) {
				values = values.including(s)
			}
		}
	}
	const room = 1.25
	return span{times.lo / room, times.hi * room}, span{values.lo / room * 1e6, values.hi * room * 1e6}
}

// logTicks labels the decades, and where they are few also 2 and 5.
func logTicks(r span) []plot.Tick {
	var ticks []plot.Tick
	few := math.Log10(r.hi/r.lo) < 2
	for decade := int(math.Floor(math.Log10(r.lo))); decade <= int(math.Ceil(math.Log10(r.hi))); decade++ {
		unit := math.Pow(10, float64(decade))
		for m := 1; m < 10; m++ {
			t := plot.Tick{Value: float64(m) * unit}
			if m == 1 || few && (m == 2 || m == 5) {
				t.Label = plain(t.Value, max(0, -decade))
			}
			ticks = append(ticks, t)
		}
	}
	return within(ticks, r)
}

// logTimes labels averaging times as people say them.
func logTimes(r span) []plot.Tick {
	var ticks []plot.Tick
	for _, unit := range []struct {
		size float64
		name string
		most float64 // from here on, a number of this unit is too near to one of the next
	}{{0.001, "ms", 1000}, {1, "s", 30}, {minute, "min", 30}, {hour, "h", 20}, {day, "d", 1000}} {
		for decade := 1.0; decade < unit.most; decade *= 10 {
			for _, m := range []float64{1, 2, 5} {
				if n := m * decade; n < unit.most {
					ticks = append(ticks, plot.Tick{Value: n * unit.size, Label: plain(n, 0) + " " + unit.name})
				}
			}
		}
	}
	ticks = within(ticks, r)
	if len(ticks) <= mostTimes {
		return ticks
	}
	for i, t := range ticks {
		if t.Label[0] != '1' {
			ticks[i].Label = ""
		}
	}
	return ticks
}

// confidenceBand fills the intervals of the stabilities that have one.
type confidenceBand struct{ stabilities []rate.Stability }

// Plot implements plot.Plotter.
func (b confidenceBand) Plot(c draw.Canvas, p *plot.Plot) {
	var top, outline []vg.Point
	for _, s := range b.stabilities {
		if finite(s.AllanLow) && finite(s.AllanHigh) {
			top = append(top, logPoint(&c, p, s.Tau, s.AllanHigh))
			outline = append(outline, logPoint(&c, p, s.Tau, s.AllanLow))
		}
	}
	for i := len(top) - 1; i >= 0; i-- {
		outline = append(outline, top[i])
	}
	c.FillPolygon(pale, c.ClipPolygonXY(outline))
}

// Thumbnail implements plot.Thumbnailer.
func (b confidenceBand) Thumbnail(c *draw.Canvas) { fillBox(c, pale) }

// deviations draws points and a line through them.
type deviations struct{ stabilities []rate.Stability }

// Plot implements plot.Plotter.
func (s deviations) Plot(c draw.Canvas, p *plot.Plot) {
	var pts []vg.Point
	for _, d := range s.stabilities {
		pts = append(pts, logPoint(&c, p, d.Tau, d.Allan))
	}
	c.StrokeLines(stroke(dark, 1), pts)
	for _, at := range pts {
		c.DrawGlyph(draw.GlyphStyle{Color: dark, Radius: 2, Shape: draw.CircleGlyph{}}, at)
	}
}

// Thumbnail implements plot.Thumbnailer.
func (s deviations) Thumbnail(c *draw.Canvas) {
	c.StrokeLine2(stroke(dark, 1), c.Min.X, c.Center().Y, c.Max.X, c.Center().Y)
	c.DrawGlyph(draw.GlyphStyle{Color: dark, Radius: 2, Shape: draw.CircleGlyph{}}, c.Center())
}

// floorLine draws a floor, dashed.
type floorLine struct {
	Floor
	dashes []vg.Length
}

// Plot implements plot.Plotter.
func (l floorLine) Plot(c draw.Canvas, p *plot.Plot) {
	var pts []vg.Point
	for i, t := range l.Tau {
		if s := l.Sigma[i]; t > 0 && s > 0 && finite(t) && finite(s) {
			pts = append(pts, logPoint(&c, p, t, s))
		}
	}
	c.StrokeLines(l.style(), c.ClipLinesXY(pts)...)
}

// Thumbnail implements plot.Thumbnailer.
func (l floorLine) Thumbnail(c *draw.Canvas) {
	c.StrokeLine2(l.style(), c.Min.X, c.Center().Y, c.Max.X, c.Center().Y)
}

func (l floorLine) style() draw.LineStyle {
	return draw.LineStyle{Color: rust, Width: 0.8, Dashes: l.dashes}
}

// logPoint is the place of a deviation; one that is not positive lies far
// below the frame.
func logPoint(c *draw.Canvas, p *plot.Plot, tau, sigma float64) vg.Point {
	x, y := p.Transforms(c)
	return vg.Point{X: x(tau), Y: y(max(sigma*1e6, p.Y.Min*1e-3))}
}
