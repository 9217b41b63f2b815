package synth

import (
	"math"
	"math/rand/v2"
)

// customary counts of beats an hour (common practice).
var customaryCounts = []float64{
	3600, 7200, 9000, 12000, 14400, 16200, 18000, 19800, 21600, 25200, 28800, 36000,
}

// Random draws a recording of a healthy movement in which all else varies:
// count (1 200 to 43 200 beats an hour), beat error (mostly small, up to a third
// of the beat interval), loudness of tick against tock (up to 20 dB), sounds,
// mainspring, rate curve, room, recorder and its clock. It lasts duration
// seconds with a signal-to-noise ratio of snr decibels, as Room defines it. The
// jitter of the beats stays 30 µs.
func Random(seed uint64, duration, snr float64) Recording {
	rng := stream(seed, randomStream)
	r := Recording{Seed: seed, Duration: duration}
	r.Movement = randomMovement(rng, duration)
	r.Sound = randomSound(rng)
	if r.Movement.BeatsPerHour < 12000 {
		// The slow ones are pendulums, whose pallets unlock almost without a sound.
		r.Sound.UnlockLevel = between(rng, -16, -8)
	}
	r.Room = Room{Noise: pick(rng, "white", "white", "pink", "pink", "brown"), SNR: snr}
	if rng.IntN(3) == 0 {
		r.Room.HumHz = pick(rng, 50., 60.)
		r.Room.HumLevel = between(rng, -40, -5)
	}
	r.Recorder = Recorder{
		SampleRate: pick(rng, 8000, 11025, 16000, 22050, 32000, 44100, 44100, 44100, 48000, 48000, 48000, 88200, 96000, 192000),
		ClockPPM:   30 * rng.NormFloat64(),
		ClockDrift: rng.NormFloat64(),
		Bits:       pick(rng, 16, 16, 24),
		PeakLevel:  between(rng, -30, -3),
	}
	return r
}

func pick[T any](rng *rand.Rand, choices ...T) T { return choices[rng.IntN(len(choices))] }

func randomMovement(rng *rand.Rand, duration float64) Movement {
	m := Movement{
		BeatsPerHour: randomCount(rng),
		Rate:         30 * rng.NormFloat64(),
		Wander:       octaves(rng, 0.05, 3),
	}
	m.BeatError = randomBeatError(rng, m.Interval())
	if m.BeatsPerHour >= 12000 {
		m.LiftAngle = between(rng, 44, 56)
		m.Mainspring.Full = between(rng, 220, 320)
		m.Mainspring.End = between(rng, 100, 200)
		m.Isochronism = 0.1 * rng.NormFloat64()
	} else {
		m.Mainspring.Full = between(rng, 2.5, 6)
		// A pendulum takes some tens of milliseconds through its lift.
		lift := octaves(rng, 0.008, 0.04)
		m.LiftAngle = 2 * m.Mainspring.Full * math.Sin(math.Pi*lift/(2*m.Interval()))
		m.Mainspring.End = m.Mainspring.Full * between(rng, 0.5, 0.9)
		m.Isochronism = -between(rng, 0, 5)
	}
	m.Mainspring.RunTime = duration * octaves(rng, 1, 20)
	m.Mainspring.Surplus = between(rng, 0.05, 0.3)
	m.Mainspring.Slope = between(rng, 0.05, 0.3)
	m.Mainspring.Exponent = between(rng, 6, 20)
	return m
}

// randomCount draws beats an hour: half of them customary, the others odd.
func randomCount(rng *rand.Rand) float64 {
	if rng.IntN(2) == 0 {
		return pick(rng, customaryCounts...)
	}
	return math.Round(octaves(rng, 1200, 43200))
}

func randomBeatError(rng *rand.Rand, interval float64) float64 {
	var part float64
	switch n := rng.IntN(10); {
	case n < 6:
		part = 0.005 * rng.NormFloat64()
	case n < 9:
		part = between(rng, -0.1, 0.1)
	default:
		part = between(rng, 0.1, 1./3) * pick(rng, -1., 1)
	}
	return part * interval
}

func randomSound(rng *rand.Rand) Sound {
	s := Sound{
		Modes:        4 + rng.IntN(9),
		Decay:        octaves(rng, 0.4e-3, 4e-3),
		TockLevel:    5 * rng.NormFloat64(),
		UnlockLevel:  between(rng, -12, 0),
		ImpulseLevel: between(rng, -12, 0),
		GainScatter:  octaves(rng, 0.2, 2),
	}
	if rng.IntN(5) == 0 {
		s.TockLevel = between(rng, -20, 20)
	}
	s.TockLevel = min(max(s.TockLevel, -20), 20)
	if rng.IntN(4) == 0 {
		s.Echo = octaves(rng, 0.01, 0.15)
		s.EchoLevel = between(rng, -35, -15)
	}
	return s
}

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
