package runs

import (
	"math"
	"slices"

	"rundown/analysis"
	"rundown/analysis/beat"
	"rundown/analysis/rate"
	"rundown/dsp/stats"
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

// Gatherer keeps in memory what an analysis finds: 4 bytes a beat, and the
// events. It is an analysis.Sink. The zero value is ready for use.
type Gatherer struct {
	events    []beat.Event
	residuals []float32
}

// Beats implements analysis.Sink.
func (g *Gatherer) Beats(rows []analysis.Row) error {
	for i := range rows {
		g.residuals = append(g.residuals, residual(rows[i].Heard, rows[i].Residual))
	}
	return nil
}

// Events implements analysis.Sink.
func (g *Gatherer) Events(events []beat.Event) error {
	g.events = append(g.events, events...)
	return nil
}

// Run returns the run whose analysis ended with r. path names it.
func (g *Gatherer) Run(path string, r *analysis.Result) *Run {
	run := &Run{
		Path: path, Summary: r.Summary, Windows: r.Windows, Kind: r.AmplitudeKind,
		Events: g.events, Residuals: g.residuals,
	}
	run.jitter()
	return run
}

func residual(heard bool, x float64) float32 {
	if !heard {
		return float32(math.NaN())
	}
	return float32(x)
}

// jitter fills in the scatter of each window from the residuals of its beats:
// their median absolute value, which a few wild ones don't move, as the
// standard deviation of a Gaussian.
func (r *Run) jitter() {
	rest := r.Residuals
	var sizes []float64
	for i := range r.Windows {
		w := &r.Windows[i]
		n := min(w.Beats, len(rest))
		sizes = sizes[:0]
		for _, x := range rest[:n] {
			if !math.IsNaN(float64(x)) {
				sizes = append(sizes, math.Abs(float64(x)))
			}
		}
		rest = rest[n:]
		w.Jitter = math.NaN()
		if len(sizes) >= 8 {
			slices.Sort(sizes)
			// The fit of a window took up to four coefficients from the scatter.
			w.Jitter = stats.PerMedian * sizes[len(sizes)/2] * math.Sqrt(float64(len(sizes))/float64(len(sizes)-4))
		}
	}
}
