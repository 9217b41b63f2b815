package chart

import (
	"cmp"
	"fmt"
	"slices"
	"strings"

	"gonum.org/v1/plot"
	"gonum.org/v1/plot/vg"
	"gonum.org/v1/plot/vg/draw"

	"rundown/analysis/fault"
)

// pin is a numbered arrow at a place on the upper edge of a frame.
type pin struct {
	at     float64
	number int
}

// pinHeight is the room that a row of pins takes, in points.
const pinHeight vg.Length = 16

// mostPins is how many recurrences are marked on one chart: the strongest.
const mostPins = 4

// pinned numbers the recurrences that have a place on a chart, and explains
// them in its legend.
func pinned(f *Figure, recurrences []fault.Recurrence, place func(fault.Recurrence) (float64, bool)) []pin {
	var pins []pin
	for _, r := range recurrences {
		at, ok := place(r)
		if !ok || len(pins) == mostPins {
			continue
		}
		n := len(pins) + 1
		pins = append(pins, pin{at, n})
		f.explain(pinSwatch{}, fmt.Sprintf("%d: %s", n, recurrenceText(r)))
	}
	return pins
}

// recurrenceText says what returns.
func recurrenceText(r fault.Recurrence) string {
	p := fmt.Sprintf("p = %.1g", r.PValue)
	if r.PValue < 0.001 {
		p = "p < 0.001"
	}
	size, period := plain(r.Size*1e3, 2)+" ms", strings.TrimSuffix(plain(r.PeriodBeats, 2), ".00")
	if r.Kind == "events" {
		return fmt.Sprintf("events every %s beats, in %d of %s, median %s, %s",
			period, r.Occurrences, count(r.Opportunities, "turn"), size, p)
	}
	return fmt.Sprintf("latest point of a swing every %s beats, %s peak to peak, %s", period, size, p)
}

// drawPins draws pins above a frame. The numbers of those too close to be read
// apart stand together, in the order of the arrows.
func drawPins(frame draw.Canvas, p *plot.Plot, pins []pin) {
	x, _ := p.Transforms(&frame)
	sty := letters(textSize, rust, draw.XCenter, draw.YBottom)
	rest := slices.SortedStableFunc(slices.Values(pins), func(a, b pin) int { return cmp.Compare(a.at, b.at) })
	for len(rest) > 0 {
		n := 1
		for n < len(rest) && x(rest[n].at)-x(rest[n-1].at) < 2*textSize {
			n++
		}
		var numbers []string
		for _, one := range rest[:n] {
			frame.FillPolygon(rust, arrow(vg.Point{X: x(one.at), Y: frame.Max.Y + 1}, 0, -2.5))
			numbers = append(numbers, fmt.Sprint(one.number))
		}
		middle := (x(rest[0].at) + x(rest[n-1].at)) / 2
		frame.FillText(sty, vg.Point{X: middle, Y: frame.Max.Y + 7}, strings.Join(numbers, ", "))
		rest = rest[n:]
	}
}

// pinSwatch is a pin in the legend.
type pinSwatch struct{}

// Thumbnail implements plot.Thumbnailer.
func (pinSwatch) Thumbnail(c *draw.Canvas) {
	c.FillPolygon(rust, arrow(vg.Point{X: c.Max.X - 4, Y: c.Min.Y}, 0, -2.5))
}
