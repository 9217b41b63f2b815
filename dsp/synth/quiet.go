package synth

import "math"

// Rooms returns the names of the rooms in which there is no movement: Textures,
// "silence", which a quiet room and the converter's noise fill, and "zeros", of
// a recorder that hears nothing.
func Rooms() []string { return append(Textures(), "silence", "zeros") }

// Quiet returns a recording of a room without a movement, at a loudness drawn
// from the seed. It panics on a name that is not one of Rooms.
func Quiet(room string, seed uint64, duration float64, sampleRate int) Recording {
	r := Recording{Seed: seed, Duration: duration}
	r.Movement.Absent = true
	r.Recorder.SampleRate = sampleRate
	rng := stream(seed, randomStream)
	switch room {
	case "zeros":
		r.Room.Noise = "none"
	case "silence":
		r.Room.Noise, r.Room.Level = "pink", between(rng, -95, -75)
	default:
		r.Room.Noise = room
		l := measure(r.Room.open(seed, 0, float64(sampleRate)), hearing, float64(sampleRate))
		// The loudest sample of the first seconds lies from −30 to −3 dBFS.
		r.Room.Level = between(rng, -30, -3) - 20*math.Log10(l.peak/l.rms)
	}
	return r
}
