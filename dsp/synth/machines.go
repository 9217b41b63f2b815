package synth

import (
	"math"
)

// newClick returns one click within the first three seconds.
func newClick(seed, s uint64, rate float64) texture {
	rng := newRand(seed, s)
	once := false
	h := &happenings{
		wait: func() float64 {
			if once {
				return math.Inf(1)
			}
			once = true
			return between(rng, 0.2, 3)
		},
		draw: func() []float32 { return clack(seed, s+1, rate) },
		bed:  newWhite(seed, s+2),
		gain: 1e-3,
	}
	return h.start(rate)
}

// newClicks returns clicks of one kind at random instants.
func newClicks(seed, s uint64, rate float64) texture {
	rng := newRand(seed, s)
	click := clack(seed, s+1, rate)
	h := &happenings{
		wait: poisson(rng, octaves(rng, 0.3, 8)),
		draw: func() []float32 { return louder(click, math.Exp(0.2*rng.NormFloat64())) },
		bed:  newWhite(seed, s+2),
		gain: 3e-3,
	}
	return h.start(rate)
}

// clack returns the samples of one knock.
func clack(seed, s uint64, rate float64) []float32 {
	x := make([]float32, int(0.02*rate))
	newKnock(seed, s, rate).fill(x)
	return x
}

// newDrip returns a dripping tap: a plop and its bubble, steady to a few parts
// in a hundred.
func newDrip(seed, s uint64, rate float64) texture {
	rng := newRand(seed, s)
	hz := octaves(rng, 600, 3000)
	h := &happenings{
		wait: steady(rng, octaves(rng, 0.3, 2), between(rng, 0.02, 0.05)),
		draw: func() []float32 {
			gain := math.Exp(0.15 * rng.NormFloat64())
			drop := ring(gain, hz*math.Exp(0.05*rng.NormFloat64()), 0.02, rate)
			mix(drop, hiss(rng, 0.5*gain, 0.001, 0, rate))
			return drop
		},
		bed:  newPink(seed, s+1, rate),
		gain: 3e-3,
	}
	return h.start(rate)
}

// newHelicopter returns blade after blade, dull thumps with a hiss, over the
// turbine's noise. The blades pass evenly, but the wind they beat is uneven.
func newHelicopter(seed, s uint64, rate float64) texture {
	rng := newRand(seed, s)
	interval := 1 / octaves(rng, 5, 25)
	h := &happenings{
		wait: steady(rng, interval, between(rng, 0.01, 0.04)),
		draw: func() []float32 {
			gain := math.Exp(0.15 * rng.NormFloat64())
			thump := hiss(rng, gain, interval/4, 5e-4, rate)
			mix(thump, hiss(rng, 0.3*gain, interval/5, 0, rate))
			soften(thump, int(interval/10*rate))
			return thump
		},
		bed:  newPink(seed, s+1, rate),
		gain: 0.15,
	}
	return h.start(rate)
}

// newChainsaw returns the explosions of a small engine that idles, then runs,
// each like the one before it but never quite.
func newChainsaw(seed, s uint64, rate float64) texture {
	rng := newRand(seed, s)
	idle, full := between(rng, 20, 45), between(rng, 90, 160)
	hz, aim, left := idle, idle, 0.0
	pops := some(16, func() []float32 {
		pop := hiss(rng, 0.5, 0.002, 5e-5, rate)
		pop = append(pop, make([]float32, int(0.02*rate))...)
		for k := 1.0; k <= 6; k++ {
			addRing(pop, 1/k, 180*k*between(rng, 0.97, 1.03), 0.006/k, rate)
		}
		return pop
	})
	h := &happenings{
		wait: func() float64 {
			if left <= 0 {
				left = between(rng, 0.5, 4)
				aim = idle
				if rng.IntN(2) == 0 {
					aim = full
				}
			}
			hz += (aim - hz) * 0.03
			wait := max(0.2, 1+0.02*rng.NormFloat64()) / hz
			left -= wait
			return wait
		},
		draw: func() []float32 { return louder(pops[rng.IntN(len(pops))], math.Exp(0.1*rng.NormFloat64())) },
		bed:  newPink(seed, s+1, rate),
		gain: 0.05,
	}
	return h.start(rate)
}

// lorry is the rumble of a heavy engine over the noise of its tyres.
type lorry struct {
	road   *sloped
	engine *hum
	noise  []float32
}

func newLorry(seed, s uint64, rate float64) texture {
	return &lorry{road: newBrown(seed, s, rate), engine: newHum(seed, s+1, 24, rate)}
}

func (l *lorry) fill(dst []float32) {
	l.engine.fill(dst)
	l.noise = grown(l.noise, len(dst))
	l.road.fill(l.noise)
	for i, v := range l.noise {
		dst[i] += 0.1 * v
	}
}

// slam is a door: low modes that ring for a while under a burst of noise.
type slam struct {
	rings []*tone
	burst *white
	gain  float64
	decay float64 // factor from sample to sample
}

func newSlam(seed, s uint64, rate float64) texture {
	rng := newRand(seed, s)
	d := &slam{burst: newWhite(seed, s+1), gain: 0.2, decay: math.Exp(-1 / (0.04 * rate))}
	const count = 8
	for range count {
		hz := 50 * math.Exp2(3*rng.Float64())
		d.rings = append(d.rings, newRing(1.5/count, hz, 0, 0.05+0.1*rng.Float64(), rate))
	}
	return d
}

func (d *slam) fill(dst []float32) {
	d.burst.fill(dst)
	for i := range dst {
		dst[i] *= float32(d.gain)
		d.gain *= d.decay
	}
	for _, r := range d.rings {
		r.add(dst)
	}
}

// knock is one short ringing sound, much like a contact's.
type knock struct{ rings []*tone }

func newKnock(seed, s uint64, rate float64) texture {
	rng := newRand(seed, s)
	const count = 5
	k := new(knock)
	for range count {
		hz := min(1200*math.Exp2(3.5*rng.Float64()), 0.45*rate)
		k.rings = append(k.rings, newRing(2./count, hz, 0, 0.0005+0.001*rng.Float64(), rate))
	}
	return k
}

func (k *knock) fill(dst []float32) {
	clear(dst)
	for _, r := range k.rings {
		r.add(dst)
	}
}
