package rate

import (
	"math"

	"rundown/analysis/drift"
)

// Smooth fills in Smoothed: the rate freed from measurement noise by a trend
// whose smoothness is settled by maximum likelihood and which single bad
// windows do not bend. A stop starts a new trend. Windows without a rate get
// none. What the marks leave uncertain neighbours have in common: it bends no trend, and
// goes into the error of the whole.
func Smooth(ws []Window) {
	var obs []drift.Observation
	var at []int
	broken := true
	for i := range ws {
		w := &ws[i]
		w.Smoothed = Value{math.NaN(), math.NaN()}
		broken = broken || w.Stopped
		if valid(w.Rate) {
			// Of a window that is all uncertainty of the mark, rounding may leave nothing.
			obs = append(obs, drift.Observation{Time: w.middle(), Value: w.Rate.X, SE: w.Rate.SE * math.Sqrt(math.Max(1e-6, 1-w.marked*w.marked)), Fresh: broken})
			at = append(at, i)
			broken = w.Stopped
		}
	}
	for k, s := range drift.Smooth(obs, 0) {
		w := &ws[at[k]]
		w.Smoothed = Value{s.Level, math.Hypot(s.LevelSE, w.Rate.SE*w.marked)}
	}
}

// middle returns the middle of the window, s.
func (w *Window) middle() float64 { return (w.Start + w.End) / 2 }

// valid reports that v is a figure with an error.
func valid(v Value) bool { return !math.IsNaN(v.X) && !math.IsNaN(v.SE) }
