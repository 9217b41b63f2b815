package runs

import (
	"math"
	"slices"

	"rundown/analysis"
	"rundown/analysis/beat"
	"rundown/analysis/rate"
)

// Run is an analysed run.
type Run struct {
	Path      string // of the recording or the results folder, as it was given
	Summary   analysis.Summary
	Windows   []rate.Window      // from 0 to the end without a hole, Smoothed and Jitter filled in
	Kind      rate.AmplitudeKind // of the windows' amplitudes
	Events    []beat.Event       // in order of time
	Residuals []float32          // of each beat to the fit of its window, seconds; NaN where it was not heard or has none
}

// Nominal sets the rates against another nominal count of beats per hour.
func (r *Run) Nominal(perHour float64) {
	rate.SetRates(r.Windows, 7200/perHour)
	rate.Smooth(r.Windows)
	r.Summary.Beat.Nominal = analysis.Number(perHour)
	r.Summary.Beat.Source = rate.FromFlag
}

// Width is the width of the averaging windows, seconds; 0 where there is none.
func (r *Run) Width() float64 {
	if len(r.Windows) == 0 {
		return 0
	}
	return r.Windows[0].End - r.Windows[0].Start
}

// Widen joins every k windows to one. Its rate is the mean of theirs, which is
// known a little less well than that of a line through all their beats. The
// last may be shorter. It panics where k is not positive.
func (r *Run) Widen(k int) {
	if k < 1 {
		panic("runs: windows cannot be widened by less than 1")
	}
	if k == 1 {
		return
	}
	var wide []rate.Window
	for part := range slices.Chunk(r.Windows, k) {
		wide = append(wide, joined(part))
	}
	r.Windows = wide
	rate.SetRates(r.Windows, 7200/float64(r.Summary.Beat.Nominal))
	rate.Smooth(r.Windows)
}

// joined is the window that takes the place of consecutive ones.
func joined(ws []rate.Window) rate.Window {
	mean := func(get func(*rate.Window) rate.Value) rate.Value {
		var n, sum, variance float64
		for i := range ws {
			v := get(&ws[i])
			if h := float64(ws[i].Heard); h > 0 && !math.IsNaN(v.X) && !math.IsNaN(v.SE) {
				n += h
				sum += h * v.X
				variance += h * h * v.SE * v.SE
			}
		}
		return rate.Value{X: sum / n, SE: math.Sqrt(variance) / n}
	}
	w := rate.Window{
		Start:     ws[0].Start,
		End:       ws[len(ws)-1].End,
		Period:    mean(func(w *rate.Window) rate.Value { return w.Period }),
		BeatError: mean(func(w *rate.Window) rate.Value { return w.BeatError }),
		Amplitude: mean(func(w *rate.Window) rate.Value { return w.Amplitude }),
		Level:     mean(func(w *rate.Window) rate.Value { return rate.Value{X: w.Level.X} }),
		Jitter:    mean(func(w *rate.Window) rate.Value { return rate.Value{X: w.Jitter} }).X,
	}
	for i := range ws {
		w.Beats += ws[i].Beats
		w.Heard += ws[i].Heard
		w.Stopped = w.Stopped || ws[i].Stopped
	}
	return w
}
