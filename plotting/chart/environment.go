package chart

import (
	"slices"

	"gonum.org/v1/plot/vg"

	"rundown/analysis/rate"
)

// Course is what a logger wrote beside a run.
type Course struct {
	Name, Unit string    // of the log; any characters, any length
	Values     []float64 // one a window of the run; NaN where there is none
	Rate       float64   // what it does to the rate, s/day in its unit; 0 for nothing that can be told
}

// mostCourses is how many a picture has room for.
const mostCourses = 4

// Environment draws the smoothed rate, and the same with what the courses do to it
// taken off; under it each course.
func Environment(r Run, courses []Course) *Figure {
	f := newFigure("What else was different: the rate and what was logged beside it", r.Heading)
	left := len(courses) - mostCourses
	courses = courses[:min(len(courses), mostCourses)]
	f.height = figureHeight*0.7 + 106*vg.Length(len(courses))
	f.Panels = []*Panel{r.withoutCourses(courses)}
	for _, c := range courses {
		f.Panels = append(f.Panels, r.course(c))
	}
	for _, p := range f.Panels[:len(f.Panels)-1] {
		p.X.mute = true
	}
	if left > 0 {
		f.note("Not drawn: " + count(left, "further column") + " of the log.")
	}
	return f
}

// withoutCourses is the panel of the rate.
func (r Run) withoutCourses(courses []Course) *Panel {
	smooth := r.smoothed()
	at := r
	at.Windows = slices.Clone(r.Windows)
	taken := false
	for _, c := range courses {
		middle := meanOf(c.Values)
		for i := range at.Windows {
			if c.Rate != 0 {
				at.Windows[i].Smoothed.X -= c.Rate * (c.Values[i] - middle)
				taken = true
			}
		}
	}
	xs, ses := smooth.values()
	p := &Panel{X: elapsedAxis(r.time(), mostTimes), Y: rates.axis(robustSpan(xs, ses, rates.least), mostValues)}
	if len(xs) == 0 {
		p.Banner = r.without("no rate was measured")
		return p
	}
	p.level(0)
	p.line(smooth, "rate, smoothed", dark, 1.3)
	if taken {
		p.line(at.smoothed(), "with what was logged taken off", rust, 1.1, 5, 2.5)
	}
	return p
}

func meanOf(xs []float64) float64 {
	sum, n := 0.0, 0.0
	for _, x := range xs {
		if finite(x) {
			sum, n = sum+x, n+1
		}
	}
	return sum / n
}

// course is the panel of one course.
func (r Run) course(c Course) *Panel {
	at := r
	at.Windows = slices.Clone(r.Windows)
	for i := range at.Windows {
		at.Windows[i].Level = rate.Value{X: c.Values[i]}
	}
	drawn := at.curve(func(w rate.Window) rate.Value { return w.Level })
	xs, ses := drawn.values()
	label := cut(safe(c.Name), letters(textSize, ink, 0, 0), 44)
	if c.Unit != "" {
		label += " (" + cut(safe(c.Unit), letters(textSize, ink, 0, 0), 18) + ")"
	}
	p := &Panel{X: elapsedAxis(r.time(), mostTimes), Y: valueAxis(label, robustSpan(xs, ses, 0.5), 4, false).inner(), height: 80}
	p.Y.Unit = safe(c.Unit)
	p.line(drawn, safe(c.Name), dark, 1.1)
	return p
}
