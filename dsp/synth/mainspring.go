package synth

import "math"

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
