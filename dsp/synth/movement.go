package synth

import (
	"iter"
	"math"
)

// Movement is a clock movement: an oscillator, its escapement and what drives
// them. The zero value is a healthy one of 18 000 beats an hour that never runs
// down.
type Movement struct {
	Absent       bool    `toml:"absent"`         // there is none: the room alone is recorded
	BeatsPerHour float64 `toml:"beats_per_hour"` // nominal; 0 means 18 000
	Start        float64 `toml:"start_s"`        // true time of the first beat; 0 draws it from the first beat interval
	Stop         float64 `toml:"stop_s"`         // true time at which it stops for good; 0 means never
	BeatError    float64 `toml:"beat_error_s"`   // half of tick-to-tock minus tock-to-tick, seconds

	Rate        float64 `toml:"rate_s_per_day"`                 // at the reference amplitude, positive when it gains
	Isochronism float64 `toml:"isochronism_s_per_day_per_deg"`  // change of rate with amplitude
	Curvature   float64 `toml:"curvature_s_per_day_per_deg2"`   // its quadratic part
	Reference   float64 `toml:"reference_deg"`                  // amplitude at which both are zero; 0 means that of half the run time
	Wander      float64 `toml:"wander_s_per_day_per_sqrt_hour"` // random walk of the rate: standard deviation gathered in an hour
	Jitter      float64 `toml:"jitter_s"`                       // standard deviation of each beat about its place; 0 means 30 µs, negative none
	LiftAngle   float64 `toml:"lift_angle_deg"`                 // 0 means 52
	Least       float64 `toml:"least_deg"`                      // amplitude below which the movement stops; never below half the lift angle

	Mainspring  Mainspring   `toml:"mainspring"`
	Faults      []Fault      `toml:"fault"`
	Recurrences []Recurrence `toml:"recurrence"`
	Modulations []Modulation `toml:"modulation"`
}

func (m Movement) withDefaults() Movement {
	setDefault(&m.BeatsPerHour, 18000)
	setDefault(&m.Jitter, 30e-6)
	setDefault(&m.LiftAngle, 52)
	m.Mainspring = m.Mainspring.withDefaults()
	setDefault(&m.Reference, m.Mainspring.amplitude(m.Mainspring.RunTime/2))
	// Half the lift angle is where the escapement can no longer unlock.
	m.Least = max(m.Least, m.LiftAngle/2*1.0001)
	return m
}

// Interval returns the nominal time from beat to beat in seconds.
func (m Movement) Interval() float64 { return 3600 / m.withDefaults().BeatsPerHour }

// Beats yields the beats of the first duration true seconds, without room,
// sound or recorder: Level knows the amplitude alone, and Elapsed is Time.
func (m Movement) Beats(seed uint64, duration float64) iter.Seq[Beat] {
	return func(yield func(Beat) bool) {
		run := newRun(m, seed, duration)
		for b, ok := run.next(); ok; b, ok = run.next() {
			if !yield(b) {
				return
			}
		}
	}
}

// liftTime returns the time in seconds that the oscillator takes through the
// lift angle, from λ/2 before rest to λ/2 after it. It swings as
// A sin(2πt/T), hence passes λ/2 at t = T/2π · asin(λ/2A).
func (m Movement) liftTime(amplitude, period float64) float64 {
	half := math.Asin(min(m.LiftAngle/2/amplitude, 1)) * period / (2 * math.Pi)
	return 2 * half
}

// rateAt returns the rate in seconds a day at an amplitude, without wander.
func (m Movement) rateAt(amplitude float64) float64 {
	d := amplitude - m.Reference
	return m.Rate + d*(m.Isochronism+d*m.Curvature)
}
