package chart

import (
	"math"
	"strings"

	"rundown/analysis/beat"
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
	Windows []rate.Window // in order of time
	// Smooth is the rate freed from measurement noise, s/day, one for each
	// window, NaN where there is none; nil without.
	Smooth []float64
	Band   *rate.Band         // nil where there is no stable band
	Kind   rate.AmplitudeKind // of the windows' amplitudes; empty where they have none
	Events []beat.Event       // in order of time
	Turns  *Turns             // nil without a train
}

// Turns counts elapsed time in turns of an arbor.
type Turns struct {
	Name  string  // of the arbor: "barrel"
	Start float64 // when the count begins, true seconds
	Each  float64 // length of one turn, true seconds, above 0
}

// subtitle is the line under the title.
func (h Heading) subtitle() string {
	var parts []string
	if h.Name != "" {
		parts = append(parts, cut(safe(h.Name), letters(textSize, muted, 0, 0), textWidth*0.7))
	}
	if h.Nominal > 0 && finite(h.Nominal) {
		parts = append(parts, "nominal "+grouped(h.Nominal)+" beats per hour")
	}
	return strings.Join(parts, "   ·   ")
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
	for _, w := range r.Windows {
		if w.Heard > 0 {
			return true
		}
	}
	return false
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

// smoothed is the smoothed rate as a series.
func (r Run) smoothed() series {
	var ps []point
	for i, w := range r.Windows {
		x := math.NaN()
		if i < len(r.Smooth) {
			x = r.Smooth[i]
		}
		ps = append(ps, point{(w.Start + w.End) / 2, x, 0})
	}
	return split(ps, of(r.Events, beat.Stop))
}
