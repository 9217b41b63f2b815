package synth

import (
	"math"
	"math/rand/v2"
)

// newKnocks returns knocks on wood in groups, as regular as a hand makes them.
func newKnocks(seed, s uint64, rate float64) texture {
	rng := newRand(seed, s)
	interval := between(rng, 0.2, 0.6)
	wait := steady(rng, interval, between(rng, 0.05, 0.1))
	left := 0
	hz := octaves(rng, 200, 900)
	h := &happenings{
		wait: func() float64 {
			if left == 0 {
				left = 2 + rng.IntN(10)
				return wait() + between(rng, 0, 3)
			}
			left--
			return wait()
		},
		draw: func() []float32 {
			gain := math.Exp(0.25 * rng.NormFloat64())
			knock := hiss(rng, 0.3*gain, 0.004, 1e-4, rate)
			knock = append(knock, make([]float32, int(0.08*rate))...)
			for k := 1.0; k < 5; k++ {
				addRing(knock, gain/k, hz*k*between(rng, 0.98, 1.02), 0.012/k, rate)
			}
			return knock
		},
	}
	return h.start(rate)
}

// newFootsteps returns steps of two unequal feet, as regular as walking is.
func newFootsteps(seed, s uint64, rate float64) texture {
	rng := newRand(seed, s)
	foot := 0
	pace := steady(rng, between(rng, 0.45, 0.65), between(rng, 0.05, 0.1))
	unequal := [2]float64{1, between(rng, 0.5, 1)}
	h := &happenings{
		wait: pace,
		draw: func() []float32 {
			foot = 1 - foot
			gain := unequal[foot] * math.Exp(0.2*rng.NormFloat64())
			step := hiss(rng, 0.3*gain, 0.03, 3e-4, rate)
			addRing(step, gain, octaves(rng, 70, 140), 0.025, rate)
			return step
		},
	}
	return h.start(rate)
}

// newSpeech returns babble: syllables of a buzzing voice through three formants
// that wander, some of them led in by a hiss, in phrases.
func newSpeech(seed, s uint64, rate float64) texture {
	rng := newRand(seed, s)
	v := voice{rng: rng, rate: rate, pitch: octaves(rng, 90, 230)}
	pace := between(rng, 0.16, 0.26)
	left := 0
	h := &happenings{
		wait: func() float64 {
			if left == 0 {
				left = 3 + rng.IntN(15)
				return between(rng, 0.3, 1.2)
			}
			left--
			return pace * math.Exp(0.3*rng.NormFloat64())
		},
		draw: v.syllable,
	}
	return h.start(rate)
}

// voice speaks syllables that mean nothing.
type voice struct {
	rng   *rand.Rand
	rate  float64
	pitch float64 // Hz
}

func (v *voice) syllable() []float32 {
	rng := v.rng
	buzz := v.buzz(between(rng, 0.08, 0.25))
	formants := [3]float64{octaves(rng, 280, 800), octaves(rng, 850, 2400), octaves(rng, 2300, 3400)}
	out := make([]float32, len(buzz))
	for k, hz := range formants {
		resonate(out, buzz, 1/float64(1+k), hz, between(rng, 60, 150), v.rate)
	}
	for i := range out {
		out[i] *= float32(math.Sqrt(swell(float64(i) / float64(len(out)))))
	}
	if rng.IntN(3) == 0 {
		lead := hiss(rng, 0.5*greatest(out)*rng.Float64(), between(rng, 0.01, 0.04), 0, v.rate)
		mix(out, lead)
	}
	return out
}

// buzz returns the pulses of the vocal cords.
func (v *voice) buzz(duration float64) []float32 {
	buzz := make([]float32, int(duration*v.rate))
	from := v.pitch * math.Exp(0.1*v.rng.NormFloat64())
	glide := 0.2 * v.rng.NormFloat64()
	for t := 0.0; t < duration; {
		if i := int(t * v.rate); i < len(buzz) {
			buzz[i] = 1
		}
		t += (1 + 0.01*v.rng.NormFloat64()) / (from * math.Exp(glide*t/duration))
	}
	return buzz
}

// resonate adds to dst what src makes of a resonance of a given bandwidth, both
// in Hz.
func resonate(dst, src []float32, gain, hz, width, rate float64) {
	if hz > 0.45*rate {
		return
	}
	r := math.Exp(-math.Pi * width / rate)
	sin, cos := math.Sincos(2 * math.Pi * hz / rate)
	turn := complex(r*cos, r*sin)
	var state complex128
	for i, x := range src {
		state = state*turn + complex(float64(x), 0)
		dst[i] += float32(gain * imag(state))
	}
}

// newMusic returns notes of a scale in the time of a beat, as exactly as hands
// play it.
func newMusic(seed, s uint64, rate float64) texture {
	rng := newRand(seed, s)
	beat := 60 / between(rng, 60, 160)
	key := octaves(rng, 110, 330)
	scale := []float64{0, 2, 4, 5, 7, 9, 11, 12, 14, 16}
	decay := octaves(rng, 0.1, 0.8)
	var late float64
	h := &happenings{
		wait: func() float64 {
			// Eighths, quarters and halves; the player's lateness is not kept.
			length := []float64{0.5, 0.5, 1, 1, 1, 2}[rng.IntN(6)]
			before := late
			late = 0.01 * rng.NormFloat64()
			return max(length*beat+late-before, 0)
		},
		draw: func() []float32 {
			hz := key * math.Exp2(scale[rng.IntN(len(scale))]/12)
			note := make([]float32, int(4*decay*rate))
			gain := math.Exp(0.3 * rng.NormFloat64())
			for k := 1.0; k <= 8; k++ {
				addRing(note, gain/k, k*hz, decay/math.Sqrt(k), rate)
			}
			soften(note, int(0.004*rate))
			return note
		},
	}
	return h.start(rate)
}

// soften fades a sound in over n samples, and its last half out.
func soften(x []float32, n int) {
	for i := range min(n, len(x)) {
		x[i] *= float32(i) / float32(n)
	}
	half := len(x) / 2
	for i := half; i < len(x); i++ {
		x[i] *= float32(len(x)-i) / float32(len(x)-half)
	}
}

// newDog returns barks: a rough voice that rises and falls, at no set time.
func newDog(seed, s uint64, rate float64) texture {
	rng := newRand(seed, s)
	v := voice{rng: rng, rate: rate, pitch: octaves(rng, 250, 700)}
	left := 0
	h := &happenings{
		wait: func() float64 {
			if left == 0 {
				left = rng.IntN(5)
				return between(rng, 0.5, 4)
			}
			left--
			return between(rng, 0.25, 0.6)
		},
		draw: func() []float32 {
			bark := v.syllable()
			rough := hiss(rng, 0.3*greatest(bark), 0.05, 1e-4, rate)
			mix(bark, rough)
			return bark
		},
	}
	return h.start(rate)
}
