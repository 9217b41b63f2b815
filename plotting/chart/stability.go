package chart

import (
	"fmt"
	"math"

	"gonum.org/v1/plot"
	"gonum.org/v1/plot/vg"
	"gonum.org/v1/plot/vg/draw"
)

// Deviation is the Allan deviation at one averaging time.
type Deviation struct {
	Tau       float64 // averaging time, s
	Sigma     float64 // fractional frequency
	Low, High float64 // its confidence interval; NaN where there is none
}

// Floor is a limit that some other thing sets to what can be measured.
type Floor struct {
	Name       string
	Tau, Sigma []float64 // of equal length: averaging times in s, fractional frequency
}

// perDay is a rate of one part per million in seconds a day.
const perDay = 0.0864

// Stability draws the Allan deviation against averaging time on logarithmic
// axes, in parts per million and in seconds a day, with its confidence band
// (confidence from 0 to 1) and the floors.
func Stability(h Heading, ds []Deviation, confidence float64, floors []Floor) *Figure {
	for _, f := range floors {
		if len(f.Tau) != len(f.Sigma) {
			panic("chart: a floor with times and deviations of unequal number")
		}
	}
	f := newFigure("Stability: Allan deviation against averaging time", h)
	ds = positive(ds)
	times, values := stabilitySpans(ds, floors)
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
	if len(ds) == 0 {
		p.banner = "the run is too short"
		return f
	}
	band, curve := confidenceBand{ds}, deviations{ds}
	p.plot.Add(band, curve)
	f.explain(curve, "this run")
	f.explain(band, fmt.Sprintf("%s %% confidence", plain(100*confidence, 0)))
	for i, fl := range floors {
		l := floorLine{fl, [][]vg.Length{{5, 2}, {1.5, 1.5}, {6, 2, 1.5, 2}}[i%3]}
		p.plot.Add(l)
		f.explain(l, safe(fl.Name))
	}
	f.note("The lower a point, the less the rate changes from one stretch of that length to the next. A floor is the least that could have been measured.")
	return f
}

// positive keeps the deviations that a logarithmic axis can show.
func positive(ds []Deviation) []Deviation {
	var kept []Deviation
	for _, d := range ds {
		if d.Tau > 0 && d.Sigma > 0 && finite(d.Tau) && finite(d.Sigma) {
			kept = append(kept, d)
		}
	}
	return kept
}

// stabilitySpans are the ranges of the axes, values in parts per million: all
// deviations with their intervals, and of the floors what lies within a decade.
func stabilitySpans(ds []Deviation, floors []Floor) (times, values span) {
	if len(ds) == 0 {
		return span{1, hour}, span{0.1, 100}
	}
	times, values = span{ds[0].Tau, ds[0].Tau}, span{ds[0].Sigma, ds[0].Sigma}
	for _, d := range ds {
		times = times.including(d.Tau)
		for _, v := range []float64{d.Sigma, d.Low, d.High} {
			// An interval may reach down to nothing: not further than a decade.
			if finite(v) && v > 0 {
				values = values.including(max(v, d.Sigma/10))
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

// confidenceBand fills the intervals of the deviations that have one.
type confidenceBand struct{ deviations []Deviation }

// Plot implements plot.Plotter.
func (b confidenceBand) Plot(c draw.Canvas, p *plot.Plot) {
	var top, outline []vg.Point
	for _, d := range b.deviations {
		if finite(d.Low) && finite(d.High) {
			top = append(top, logPoint(&c, p, d.Tau, d.High))
			outline = append(outline, logPoint(&c, p, d.Tau, d.Low))
		}
	}
	for i := len(top) - 1; i >= 0; i-- {
		outline = append(outline, top[i])
	}
	c.FillPolygon(pale, c.ClipPolygonXY(outline))
}

// Thumbnail implements plot.Thumbnailer.
func (b confidenceBand) Thumbnail(c *draw.Canvas) { fillBox(c, pale) }

// deviations draws points with bars, and a line through them.
type deviations struct{ deviations []Deviation }

// Plot implements plot.Plotter.
func (s deviations) Plot(c draw.Canvas, p *plot.Plot) {
	var pts []vg.Point
	for _, d := range s.deviations {
		pts = append(pts, logPoint(&c, p, d.Tau, d.Sigma))
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
