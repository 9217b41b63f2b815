package synth

import "math"

// newRain returns drops at random instants, each a short ringing bubble, over
// the hiss of those farther off.
func newRain(seed, s uint64, rate float64) texture {
	rng := newRand(seed, s)
	drops := some(64, func() []float32 {
		return ring(1, octaves(rng, 900, 9000), octaves(rng, 0.3e-3, 4e-3), rate)
	})
	h := &happenings{
		wait: poisson(rng, octaves(rng, 20, 400)),
		draw: func() []float32 { return louder(drops[rng.IntN(len(drops))], math.Exp(rng.NormFloat64())) },
		bed:  newWhite(seed, s+1),
		gain: float32(octaves(rng, 0.02, 0.3)),
	}
	return h.start(rate)
}

// newFire returns crackles of very unequal loudness over a low roar.
func newFire(seed, s uint64, rate float64) texture {
	rng := newRand(seed, s)
	h := &happenings{
		wait: poisson(rng, octaves(rng, 2, 30)),
		draw: func() []float32 {
			// Loudness falls off as a power of it, as that of many small failures does.
			gain := min(math.Pow(rng.Float64(), -0.6), 30)
			return hiss(rng, gain, octaves(rng, 0.1e-3, 3e-3), between(rng, 0, 1e-4), rate)
		},
		bed:  newBrown(seed, s+1, rate),
		gain: float32(octaves(rng, 0.005, 0.1)),
	}
	return h.start(rate)
}

// newWaves returns waves on a beach: long swells of noise that overlap.
func newWaves(seed, s uint64, rate float64) texture {
	rng := newRand(seed, s)
	noise := newPink(seed, s+1, rate)
	interval := between(rng, 4, 9)
	h := &happenings{
		wait: steady(rng, interval, 0.2),
		draw: func() []float32 {
			wave := make([]float32, int(interval*between(rng, 0.8, 1.5)*rate))
			noise.fill(wave)
			high := between(rng, 0.4, 1)
			var gain float32
			for i := range wave {
				if i%32 == 0 { // often enough for a swell of seconds
					// It rises more quickly than it falls.
					gain = float32(high * swell(math.Pow(float64(i)/float64(len(wave)), 0.6)))
				}
				wave[i] *= gain
			}
			return wave
		},
		bed:  newPink(seed, s+2, rate),
		gain: 0.15,
	}
	return h.start(rate)
}
