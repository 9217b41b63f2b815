package synth

import (
	"math"
	"math/rand/v2"
)

// newRand returns the random numbers of a stream that is no purpose by itself.
func newRand(seed, s uint64) *rand.Rand { return rand.New(rand.NewPCG(seed, s)) }

// Textures lists the endless sounds of a room, in order of their names.
var Textures = []string{"brown", "hum", "pink", "white"}

// newTexture opens a texture, or one of the sounds that a room makes once. It
// panics on an unknown kind.
func newTexture(kind string, seed, s uint64, rate float64) texture {
	switch kind {
	case "white":
		return newWhite(seed, s)
	case "pink":
		return newPink(seed, s, rate)
	case "brown", "gust":
		return newBrown(seed, s, rate)
	case "hum":
		return newHum(seed, s, 50, rate)
	case "lorry":
		return newLorry(seed, s, rate)
	case "slam":
		return newSlam(seed, s, rate)
	case "knock":
		return newKnock(seed, s, rate)
	}
	panic("synth: no sound is called " + kind)
}

// lorry is the rumble of a heavy engine over the noise of its tyres.
type lorry struct {
	road   *sloped
	engine *hum
	noise  []float32
}

func newLorry(seed, s uint64, rate float64) *lorry {
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

// slam is a door: low modes that ring for a while under a burst of noise. It
// peaks near 1.
type slam struct {
	rings []*tone
	burst *white
	gain  float64
	decay float64 // factor from sample to sample
}

func newSlam(seed, s uint64, rate float64) *slam {
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

// knock is one short ringing sound, much like a contact's, that peaks near 1.
type knock struct{ rings []*tone }

func newKnock(seed, s uint64, rate float64) *knock {
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

// grown returns a buffer of n samples, reusing b's memory.
func grown(b []float32, n int) []float32 {
	if cap(b) < n {
		return make([]float32, n)
	}
	return b[:n]
}
