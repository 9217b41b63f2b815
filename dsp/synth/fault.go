package synth

import (
	"math"
	"math/rand/v2"
)

// Occasion says when something happens: once at a given instant, or at random.
type Occasion struct {
	At      float64 `toml:"at_s"`     // true seconds since the recorder started
	PerHour float64 `toml:"per_hour"` // mean number in an hour, at random instants; 0 means once, at At
}

// Fault is something that befalls the movement.
type Fault struct {
	// Kind is one of:
	// "late", "early": this beat and all later ones come late, or early;
	// "missed": beats make no sound, while the phase holds;
	// "extra": a sound between two beats that are in place;
	// "stop": the movement stands still, then starts again at any phase, with
	// either side first.
	Kind string `toml:"kind"`
	Occasion
	Size  float64 `toml:"size_s"`   // shift, or duration of the standstill, seconds
	Upto  float64 `toml:"upto_s"`   // where set, sizes are drawn evenly from Size to Upto
	Beats int     `toml:"beats"`    // how many are missed; 0 means 1
	Level float64 `toml:"level_db"` // loudness of an extra sound relative to the beat before it, dB
}

// Recurrence is a fault that comes round with a part of the train.
type Recurrence struct {
	Period float64 `toml:"period_beats"` // beats in a turn; may be fractional
	Phase  float64 `toml:"phase_beats"`  // beat number of an occurrence, modulo the period
	// Effect is "" for a lasting shift, "displaced" for one beat out of its
	// place, or "missed" for a beat without a sound.
	Effect      string  `toml:"effect"`
	Probability float64 `toml:"probability"` // of acting at each opportunity; 0 means 1
	Size        float64 `toml:"size_s"`      // shift, seconds, positive when late
	Spread      float64 `toml:"spread"`      // sizes are drawn evenly from Size·(1 − Spread) to Size·(1 + Spread)
}

// BadTooth returns the recurrences of a bad tooth of an escape wheel: it acts
// once in 2 × teeth beats on the entry pallet at beat number entry, and, where
// exit is not negative, on the other pallet at beat number exit.
func BadTooth(teeth, entry, exit int, probability, size float64) []Recurrence {
	turn := float64(2 * teeth)
	one := Recurrence{Period: turn, Phase: float64(entry), Probability: probability, Size: size}
	if exit < 0 {
		return []Recurrence{one}
	}
	other := one
	other.Phase = float64(exit)
	return []Recurrence{one, other}
}

// due reports whether beat i is the first at or after an occurrence.
func (c Recurrence) due(i int64) bool {
	turns := func(i int64) float64 { return math.Floor((float64(i) - c.Phase) / c.Period) }
	return turns(i) > turns(i-1)
}

// Modulation is a regular unevenness of the beat times.
type Modulation struct {
	Period     float64 `toml:"period_beats"`   // may be fractional
	PeakToPeak float64 `toml:"peak_to_peak_s"` // of the beat times, seconds
	Phase      float64 `toml:"phase_beats"`    // beat number of the latest point, modulo the period
}

// shift returns the displacement of beat i in seconds.
func (u Modulation) shift(i int64) float64 {
	return u.PeakToPeak / 2 * math.Cos(2*math.Pi*(float64(i)-u.Phase)/u.Period)
}

// calendar hands out the instants of an Occasion in order.
type calendar struct {
	Occasion
	rng  *rand.Rand
	next float64 // +Inf where there is none
}

func newCalendar(o Occasion, rng *rand.Rand) *calendar {
	c := &calendar{Occasion: o, rng: rng, next: o.At}
	if o.PerHour > 0 {
		c.next = o.At + c.wait()
	}
	return c
}

func (c *calendar) wait() float64 { return c.rng.ExpFloat64() * 3600 / c.PerHour }

// due reports whether the next instant lies before t, and if so passes on to the
// one after it.
func (c *calendar) due(t float64) bool {
	if c.next >= t {
		return false
	}
	if c.PerHour > 0 {
		c.next += c.wait()
	} else {
		c.next = math.Inf(1)
	}
	return true
}
