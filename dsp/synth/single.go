package synth

import "math"

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
