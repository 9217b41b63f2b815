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

// Beat is one half swing of the oscillator, as it truly was.
type Beat struct {
	Index int64
	// Time is when the oscillator passes the middle of its lift, true seconds
	// since the recorder started.
	Time float64
	// Elapsed is the same instant on the recording's axis: Time less the
	// seconds that the recorder lost before it.
	Elapsed float64
	Frame   float64 // the same in frames of the recording; 0 for a movement without recorder
	Tock    bool    // it falls to the side other than that of beat 0
	Audible bool    // it made a sound
	// Covered is true where something as loud as the beat, or louder, lies over
	// it, or the recorder failed.
	Covered   bool
	Amplitude float64 // degrees
	Lift      float64 // from unlocking to drop, seconds
	Level     float64 // peak, dB above the louder side's tick at full wind
	Rate      float64 // rate of the oscillator at this instant, seconds a day
	// Steady is Time without beat error, jitter, modulation, and the time lost
	// or won in events: the integral of the oscillator's rate, seconds.
	Steady float64
}

// Event is something other than a beat in its place.
type Event struct {
	// Kind is one of the kinds that an analysis knows (late, early, missed,
	// extra, stop, masked, gap), or "displaced" for a single beat out of its
	// place, or the kind of a recorder's fault or of a sound of the room.
	Kind string `json:"kind"`
	// Beat is the first beat displaced or not heard; for all other kinds the
	// last beat before, -1 where there is none.
	Beat  int64   `json:"beat"`
	Start float64 `json:"start_s"`  // true seconds since the recorder started
	End   float64 `json:"end_s"`    // likewise
	Shift float64 `json:"shift_s"`  // displacement of the beats, seconds, positive when late; of a stop the standstill
	Level float64 `json:"level_db"` // of an additional sound, dB above the louder side's tick at full wind
	Note  string  `json:"note,omitempty"`
}

// Mainspring says how the amplitude of the oscillator follows the torque of
// the spring as it runs down.
//
// With u the part of RunTime that has passed, the amplitude falls from Full to
// End along three terms: the steep fall just after full wind, e^(−u/Early); a
// straight slope, the plateau; and the final fall-off, u^Exponent.
type Mainspring struct {
	RunTime  float64 `toml:"run_time_s"` // from full wind to exhaustion, true seconds of running; 0 means that the torque never falls
	Full     float64 `toml:"full_deg"`   // amplitude at full wind, degrees; 0 means 280
	End      float64 `toml:"end_deg"`    // amplitude at RunTime, degrees; 0 means half of Full
	Surplus  float64 `toml:"surplus"`    // part of the fall that belongs to the first term; 0 means 0.2
	Early    float64 `toml:"early"`      // its time constant as a part of RunTime; 0 means 0.04
	Slope    float64 `toml:"slope"`      // part of the fall that belongs to the plateau; 0 means 0.1
	Exponent float64 `toml:"exponent"`   // of the final fall-off; 0 means 12
}

func (s Mainspring) withDefaults() Mainspring {
	setDefault(&s.Full, 280)
	setDefault(&s.End, s.Full/2)
	setDefault(&s.Surplus, 0.2)
	setDefault(&s.Early, 0.04)
	setDefault(&s.Slope, 0.1)
	setDefault(&s.Exponent, 12)
	return s
}

// amplitude returns the amplitude in degrees after running for t seconds; all
// fields are set.
func (s Mainspring) amplitude(t float64) float64 {
	if s.RunTime <= 0 {
		return s.Full
	}
	u := min(max(t/s.RunTime, 0), 1)
	early := (1 - math.Exp(-u/s.Early)) / (1 - math.Exp(-1/s.Early))
	late := math.Pow(u, s.Exponent)
	fall := s.Surplus*early + s.Slope*u + (1-s.Surplus-s.Slope)*late
	return s.Full - (s.Full-s.End)*fall
}

// setDefault gives a field that was left out its customary value.
func setDefault(field *float64, value float64) {
	if *field == 0 {
		*field = value
	}
}

// sigma returns a standard deviation, of which a negative one stands for none.
func sigma(x float64) float64 { return max(x, 0) }
