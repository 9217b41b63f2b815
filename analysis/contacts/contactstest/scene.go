// Package contactstest lays beats over each other whose contacts are known, for
// tests of what is told from them. It shares no formula with the analyser: every
// contact is a sum of damped modes, laid out at its place.
package contactstest

import (
	"math"
	"math/rand/v2"

	"rundown/analysis/contacts"
)

// Contact is one sound of a beat.
type Contact struct {
	At    float64   // where in the lift it sets in, 0 at unlocking, 1 at drop
	Level float64   // of its peak over the room's RMS, dB
	Modes []float64 // Hz
}

// Modes of four contacts that sound unlike each other.
var (
	Dull   = []float64{1900, 3300, 5200, 8100}
	Bright = []float64{2700, 4600, 7300, 11900}
	Hollow = []float64{1600, 2900, 6100, 9700}
	Thin   = []float64{3900, 5900, 8700, 13100}
)

// Scene is a run of beats.
type Scene struct {
	Seed    uint64
	Rate    float64 // frames a second
	Period  float64 // of the oscillator, s
	Seconds float64
	Lift    func(t float64) float64 // lift time at a time, s
	Sides   [2][]Contact
	Marks   [2]int     // index of the contact that marks the beats of a side
	After   [2]float64 // s from where that sets in to the mark
	Blur    float64    // scatter of the marks, s
	Ring    float64    // in which the modes of a contact fade to 1/e, s; 0.9 ms where it is 0
	Echo    float64    // reverberation time (to −60 dB), s; 0 for none
	Mirror  Mirror     // what reflects every sound
}

// Mirror is something that reflects every sound once; none, where its Delay is 0.
type Mirror struct {
	Delay float64 // s
	Level float64 // of what is reflected, dB over the sound itself
}

// Steady is a lift that stays as it is.
func Steady(lift float64) func(float64) float64 {
	return func(float64) float64 { return lift }
}

// Growing is a lift that grows evenly from one time to another one over a run.
func Growing(from, to, seconds float64) func(float64) float64 {
	return func(t float64) float64 { return from + (to-from)*t/seconds }
}

// Mid returns by how many seconds mid-lift truly comes after the mark of a side's
// beat at a time.
func (s *Scene) Mid(side int, t float64) float64 {
	return (0.5-s.Sides[side][s.Marks[side]].At)*s.Lift(t) - s.After[side]
}

// Clock turns frames into seconds.
func (s *Scene) Clock(frame float64) float64 { return frame / s.Rate }

// Room returns the spectrum of the room, white noise of variance 1.
func (s *Scene) Room() []float64 {
	room := make([]float64, 129)
	for i := range room {
		room[i] = 2
	}
	return room
}

// Stacks lays all beats over each other.
func (s *Scene) Stacks() *contacts.Stacker {
	l := s.Layer()
	for i := range int(s.Seconds / s.Period * 2) {
		t := 0.1 + s.Period/2*float64(i)
		l.Lay(i&1, t*s.Rate+l.rng.Float64(), s.Lift(t))
	}
	return l.Stacker
}

// Layer lays beats over each other, one by one.
type Layer struct {
	*contacts.Stacker
	Silent map[int]bool // which contacts of the scene's sides, by their index, are not laid out from now on
	scene  *Scene
	rng    *rand.Rand
	sounds [2][]sound
	x      []float32
}

// Layer returns one for the scene's sounds.
func (s *Scene) Layer() *Layer {
	reach := int((0.12*s.Period + 3e-3) * s.Rate)
	l := &Layer{Stacker: contacts.NewStacker(reach, reach), scene: s, rng: rand.New(rand.NewPCG(s.Seed, 17)), x: make([]float32, 2*reach)}
	for side := range l.sounds {
		for _, c := range s.Sides[side] {
			l.sounds[side] = append(l.sounds[side], s.sound(c, l.rng))
		}
	}
	return l
}

// Lay lays a beat of a side over the others, marked at a frame but for the
// scene's scatter, with a lift in seconds.
func (l *Layer) Lay(side int, mark, lift float64) {
	if !l.Wants(side, 0) {
		return
	}
	for k := range l.x {
		l.x[k] = float32(l.rng.NormFloat64())
	}
	s := l.scene
	wobble := s.Blur * s.Rate * l.rng.NormFloat64()
	for k, c := range s.Sides[side] {
		if l.Silent[k] {
			continue
		}
		at := float64(l.Pre) + mark - math.Floor(mark) + wobble - s.After[side]*s.Rate + (c.At-s.Sides[side][s.Marks[side]].At)*lift*s.Rate
		l.sounds[side][k].lay(l.x, at)
	}
	l.Add(side, mark, l.x)
}

// fine is how many values of a sound there are in a frame.
const fine = 16

// sound is that of a contact, from where it sets in on, fine values a frame.
type sound []float32

// sound renders a contact: modes that ring, and echoes that come ever closer and weaker.
func (s *Scene) sound(c Contact, rng *rand.Rand) sound {
	ring := s.Ring
	if ring == 0 {
		ring = 0.9e-3
	}
	step := 1 / (s.Rate * fine)
	dry := make(sound, int(8*ring/step))
	top := 0.0
	for i := range dry {
		t := float64(i) * step
		var v float64
		for k, hz := range c.Modes {
			v += math.Exp(-t/ring) * math.Sin(2*math.Pi*hz*t+float64(k))
		}
		dry[i] = float32(v)
		top = math.Max(top, math.Abs(v))
	}
	scale := float32(math.Pow(10, c.Level/20) / top)
	for i := range dry {
		dry[i] *= scale
	}
	wet := make(sound, len(dry)+int(max(s.Echo/2, s.Mirror.Delay)/step))
	copy(wet, dry)
	reflect := func(t, gain float64) {
		for i, v := range dry {
			if j := i + int(t/step); j < len(wet) {
				wet[j] += float32(gain) * v
			}
		}
	}
	for t := 1e-3; t < s.Echo/2; t += 0.7e-3 * rng.ExpFloat64() {
		reflect(t, 0.25*math.Pow(10, -3*t/s.Echo)*rng.NormFloat64())
	}
	if m := s.Mirror; m.Delay > 0 {
		reflect(m.Delay, math.Pow(10, m.Level/20))
	}
	return wet
}

// lay adds the sound to x from a place on.
func (s sound) lay(x []float32, at float64) {
	for k := max(0, int(math.Ceil(at))); k < len(x); k++ {
		i := int((float64(k) - at) * fine)
		if i >= len(s) {
			return
		}
		x[k] += s[i]
	}
}
