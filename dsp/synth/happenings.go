package synth

import (
	"math"
	"math/rand/v2"
)

// happenings is a texture of short sounds, one after the other or over each
// other, on a bed of noise.
type happenings struct {
	wait func() float64   // seconds from one sound to the next; +Inf ends it
	draw func() []float32 // samples of the next sound
	bed  texture          // nil where there is none
	gain float32          // of the bed

	rate   float64
	pos    int64   // frames made
	next   float64 // frame of the next sound
	sounds shots
}

// start sets the instant of the first sound.
func (h *happenings) start(rate float64) *happenings {
	h.rate = rate
	h.next = h.wait() * rate
	return h
}

func (h *happenings) fill(dst []float32) {
	clear(dst)
	if h.bed != nil {
		h.bed.fill(dst)
		scale(dst, h.gain)
	}
	end := h.pos + int64(len(dst))
	for h.next < float64(end) {
		h.sounds = append(h.sounds, shot{early: h.draw(), a: 1, start: int64(h.next)})
		h.next += h.wait() * h.rate
	}
	h.sounds.add(dst, h.pos)
	h.pos = end
}

// poisson returns waits for sounds at random instants, perSecond on average.
func poisson(rng *rand.Rand, perSecond float64) func() float64 {
	return func() float64 { return rng.ExpFloat64() / perSecond }
}

// steady returns waits that scatter about an interval by a part of it.
func steady(rng *rand.Rand, interval, part float64) func() float64 {
	return func() float64 { return interval * max(0.2, 1+part*rng.NormFloat64()) }
}

// between draws evenly from a to b.
func between(rng *rand.Rand, a, b float64) float64 { return a + (b-a)*rng.Float64() }

// octaves draws from a to b, evenly on a logarithmic scale.
func octaves(rng *rand.Rand, a, b float64) float64 { return a * math.Pow(b/a, rng.Float64()) }

// ring returns a damped oscillation, down to −60 dB.
func ring(gain, hz, decay, rate float64) []float32 {
	dst := make([]float32, int(math.Log(1000)*decay*rate)+1)
	addRing(dst, gain, hz, decay, rate)
	return dst
}

// addRing adds a damped oscillation; one beyond the sample rate's reach is
// left out.
func addRing(dst []float32, gain, hz, decay, rate float64) {
	if hz < 0.45*rate {
		newRing(gain, hz, 0, decay, rate).add(dst)
	}
}

// hiss returns noise that decays, down to −60 dB, dulled by averaging over a
// span of seconds.
func hiss(rng *rand.Rand, gain, decay, span, rate float64) []float32 {
	dst := make([]float32, int(math.Log(1000)*decay*rate)+1)
	keep := 0.0
	if span > 0 {
		keep = math.Exp(-1 / (span * rate))
	}
	fall := math.Exp(-1 / (decay * rate))
	state := 0.0
	gain *= math.Sqrt(1 - keep*keep)
	for i := range dst {
		state = keep*state + rng.NormFloat64()
		dst[i] = float32(gain * state)
		gain *= fall
	}
	return dst
}

// some makes a bank of n sounds to draw from.
func some(n int, draw func() []float32) [][]float32 {
	bank := make([][]float32, n)
	for i := range bank {
		bank[i] = draw()
	}
	return bank
}

// louder returns a copy of a sound.
func louder(x []float32, gain float64) []float32 {
	y := append([]float32(nil), x...)
	scale(y, float32(gain))
	return y
}

// mix adds src to dst, as far as it reaches.
func mix(dst, src []float32) {
	for i := range min(len(dst), len(src)) {
		dst[i] += src[i]
	}
}
