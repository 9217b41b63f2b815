package synth

import (
	"math"
	"math/rand/v2"
)

// Sound says what the contacts of the escapement sound like. Each beat has
// three: unlocking, impulse and drop, half the lift time before, about, and
// half the lift time after the passage through rest. All of them make the
// side's modes ring, each with gains of its own.
type Sound struct {
	Modes          int     `toml:"modes"`             // ringing modes a side; 0 means 8
	LowHz          float64 `toml:"low_hz"`            // lowest frequency of a mode; 0 means 1200
	HighHz         float64 `toml:"high_hz"`           // highest; 0 means 16 000
	Decay          float64 `toml:"decay_s"`           // time constant of a mode at 3 kHz, shorter the higher it is; 0 means 1.2 ms
	TockLevel      float64 `toml:"tock_db"`           // loudness of tock relative to tick, dB
	UnlockLevel    float64 `toml:"unlock_db"`         // relative to drop, dB; 0 means −6
	ImpulseLevel   float64 `toml:"impulse_db"`        // likewise; 0 means −4
	GainScatter    float64 `toml:"gain_scatter_db"`   // standard deviation of each beat's loudness; 0 means 1 dB, negative none
	ContactScatter float64 `toml:"contact_scatter_s"` // standard deviation of each contact about its place, on top of the movement's jitter
	Echo           float64 `toml:"echo_s"`            // time constant of the room's reverberation; 0 means none
	EchoLevel      float64 `toml:"echo_db"`           // its onset relative to the sound, dB; 0 means −20
}

func (s Sound) withDefaults() Sound {
	if s.Modes == 0 {
		s.Modes = 8
	}
	setDefault(&s.LowHz, 1200)
	setDefault(&s.HighHz, 16000)
	setDefault(&s.Decay, 1.2e-3)
	setDefault(&s.UnlockLevel, -6)
	setDefault(&s.ImpulseLevel, -4)
	setDefault(&s.GainScatter, 1)
	setDefault(&s.EchoLevel, -20)
	return s
}

// sides returns the loudness of tick and tock in dB; that of the louder one is 0.
func (s Sound) sides() [2]float64 {
	return [2]float64{min(0, -s.TockLevel), min(0, s.TockLevel)}
}

// decibels turns a level into a factor.
func decibels(db float64) float64 { return math.Pow(10, db/20) }

// mode is a damped oscillation that begins at time 0:
// gain · e^(−damping·t) · sin(2π·hz·t).
type mode struct {
	gain    float64
	damping float64 // 1/s
	hz      float64
}

// spectrum returns the Fourier transform of the mode at frequency f in Hz,
// gain·ω / ((damping + j2πf)² + ω²), in units of amplitude times seconds.
func (m mode) spectrum(f float64) complex128 {
	omega := 2 * math.Pi * m.hz
	s := complex(m.damping, 2*math.Pi*f)
	return complex(m.gain*omega, 0) / (s*s + complex(omega*omega, 0))
}

// contact is one of the sounds of a beat.
type contact struct {
	modes []mode
	place float64 // in lift times after the passage through rest
}

// contacts are unlocking, impulse and drop of one side.
type contacts [3]contact

// drawContacts draws one side's sounds.
func (s Sound) drawContacts(rng *rand.Rand) contacts {
	common := s.drawModes(rng)
	levels := [3]float64{s.UnlockLevel, s.ImpulseLevel, 0}
	places := [3]float64{-0.5, -0.2 + 0.4*rng.Float64(), 0.5}
	var c contacts
	for i := range c {
		c[i].place = places[i]
		c[i].modes = s.strike(common, decibels(levels[i]+2*rng.NormFloat64()), rng)
	}
	return c
}

// drawModes draws frequencies and decays. The lowest mode stays within an
// octave of LowHz, so that a low sample rate leaves something to hear.
func (s Sound) drawModes(rng *rand.Rand) []mode {
	modes := make([]mode, s.Modes)
	octaves := math.Log2(s.HighHz / s.LowHz)
	for i := range modes {
		width := octaves
		if i == 0 {
			width = min(1, octaves)
		}
		hz := s.LowHz * math.Exp2(width*rng.Float64())
		decay := s.Decay * math.Sqrt(3000/hz) * (0.6 + rng.Float64())
		modes[i] = mode{hz: hz, damping: 1 / decay, gain: 1}
	}
	return modes
}

// strike returns the modes as one contact excites them.
func (s Sound) strike(common []mode, gain float64, rng *rand.Rand) []mode {
	struck := make([]mode, len(common))
	for i, m := range common {
		sign := float64(1 - 2*rng.IntN(2))
		m.gain = sign * gain * math.Exp(0.6*rng.NormFloat64())
		struck[i] = m
	}
	return append(struck, s.echo(struck, rng)...)
}

// echo returns the modes of the room that a contact makes ring on.
func (s Sound) echo(struck []mode, rng *rand.Rand) []mode {
	if s.Echo <= 0 {
		return nil
	}
	const count = 60
	var power float64
	for _, m := range struck {
		power += m.gain * m.gain
	}
	gain := decibels(s.EchoLevel) * math.Sqrt(power/count)
	room := make([]mode, count)
	for i := range room {
		hz := s.LowHz * math.Exp2(math.Log2(s.HighHz/s.LowHz)*rng.Float64())
		room[i] = mode{
			gain:    gain * rng.NormFloat64(),
			damping: math.Sqrt(hz/3000) / s.Echo,
			hz:      hz,
		}
	}
	return room
}
