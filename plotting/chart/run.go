package chart

import (
	"math"

	"rundown/analysis"
	"rundown/analysis/beat"
	"rundown/analysis/prose"
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
	Windows []rate.Window      // in order of time
	Band    *rate.Band         // nil where there is no stable band
	Kind    rate.AmplitudeKind // of the windows' amplitudes; empty where they have none
	Events  []beat.Event       // in order of time
	Turns   *Turns             // nil without a train
	Note    string             // under the chart of the rate: what the errors shown leave out; empty for nothing
}

// Turns counts elapsed time in turns of an arbor.
type Turns struct {
	Name  string  // of the arbor: "barrel"
	Start float64 // when the count begins, true seconds
	Each  float64 // length of one turn, true seconds, above 0
}

// subtitle is the line under the title.
func (h Heading) subtitle() string {
	nominal := ""
	if h.Nominal > 0 && finite(h.Nominal) {
		nominal = "nominal " + prose.PerHour(analysis.Number(h.Nominal)) + " beats per hour"
	}
	if h.Name == "" {
		return nominal
	}
	if nominal != "" {
		nominal = "   ·   " + nominal
	}
	sty := letters(textSize, muted, 0, 0)
	return cut(safe(h.Name), sty, textWidth-sty.Width(nominal)) + nominal
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

// smoothed is the smoothed rate, empty where the windows were not smoothed.
func (r Run) smoothed() curve {
	return r.curve(func(w rate.Window) rate.Value {
		if w.Smoothed == (rate.Value{}) { // never set
			return rate.Value{X: math.NaN()}
		}
		return w.Smoothed
	})
}

// band is the stable band, nil where there is none that could be drawn.
func (r Run) band() *rate.Band {
	if b := r.Band; b != nil && finite(b.Start) && b.End > b.Start && finite(b.End) {
		return b
	}
	return nil
}

// typicalPeriod is the first period of the run in seconds, or 1 without any.
func (r Run) typicalPeriod() float64 {
	for _, w := range r.Windows {
		if w.Period.X > 0 && finite(w.Period.X) {
			return w.Period.X
		}
	}
	return 1
}
