package analysis

import (
	"math"

	"rundown/analysis/rate"
)

// Stability is what the run says of a day. Deviations against averaging time
// are in the table of stability.
type Stability struct {
	Within     string `json:"within"`               // "stable band", or "run" where there is none
	Wander     Number `json:"wander_over_a_day_s"`  // by chance, one standard deviation
	WanderLow  Number `json:"wander_low_s"`         // its 95 % interval
	WanderHigh Number `json:"wander_high_s"`        //
	From       Number `json:"from_averaging_s"`     // averaging time that it was inferred from
	Noise      string `json:"noise_type,omitempty"` // that was found there
	AtFloor    bool   `json:"at_floor"`             // the scatter of the beats alone explains it
}

// ClockFloor is the least Allan deviation that the recorder's clock lets
// measure at an averaging time in seconds, as a fraction.
type ClockFloor struct{ Tau, Sigma float64 }

// stability measures the stability within the stable band, or over the run, a
// steady drift taken out.
func (r *Result) stability(opt Options, phase rate.Phase, jitter float64) {
	r.Summary.Stability = &Stability{Within: "run", Wander: None(), WanderLow: None(), WanderHigh: None(), From: None()}
	s := r.Summary.Stability
	if b := r.Band; b != nil {
		s.Within = "stable band"
		phase = phase.Between(b.Start, b.End)
	}
	r.Stabilities = rate.Stabilities(phase.WithoutDrift(), jitter)
	if w, ok := rate.PredictWander(r.Stabilities); ok {
		r.Wander = &w
		s.Wander, s.WanderLow, s.WanderHigh = Number(w.Seconds), Number(w.Low), Number(w.High)
		s.From, s.Noise = Number(w.Tau), w.Noise
		for _, p := range r.Stabilities {
			// Half as much again is more than the floor's own uncertainty.
			s.AtFloor = s.AtFloor || p.Tau == w.Tau && p.Allan < 1.5*p.AllanFloor
		}
	}
	middle := float64(r.Beat.First+r.Beat.Last) / 2
	if b := r.Band; b != nil {
		middle = (b.Start + b.End) / 2
	}
	for _, p := range r.Stabilities {
		r.ClockFloor = append(r.ClockFloor, ClockFloor{p.Tau, opt.clockFloor(middle, p.Tau)})
	}
}

// clockFloor is what the clock leaves uncertain over one averaging time. With a
// reference, it is the error of the correction. Without one, a crystal in a
// room that warms and cools is commonly steady to 10⁻⁸ over two minutes and
// follows the temperature, a few tenths of a millionth a degree, in an hour
// (common practice, from memory).
func (o *Options) clockFloor(middle, tau float64) float64 {
	if o.Reference != nil {
		return 1e-6 * o.Reference.Mean(middle-tau/2, middle+tau/2).SE
	}
	const steady, room, quick = 1e-8, 3e-7, 120
	return math.Min(room, steady*math.Max(1, tau/quick))
}
