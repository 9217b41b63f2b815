package synth

import (
	"math"

	"gonum.org/v1/gonum/dsp/fourier"
	"gonum.org/v1/gonum/dsp/window"
)

// Room is all that the microphone hears besides the movement.
type Room struct {
	Noise string `toml:"noise"` // one of Textures(); "" means "white", "none" none
	// SNR is the peak of the louder side's tick at full wind over the RMS of
	// the noise from 1.5 to 16 kHz (or to Nyquist's frequency), dB; 0 means 40.
	SNR float64 `toml:"snr_db"`
	// Level, where not 0, is the RMS of the noise over all frequencies in dB
	// above full scale, and takes the place of SNR.
	Level    float64 `toml:"level_dbfs"`
	HumHz    float64 `toml:"hum_hz"` // mains frequency; 0 means no hum
	HumLevel float64 `toml:"hum_db"` // RMS of the hum above the peak of the tick, dB; 0 means −20

	// Samples, where given, take the place of Noise: a recording of a room,
	// repeated with its ends faded into each other. SamplesRate is in Hz.
	Samples     []float32 `toml:"-" json:"-"`
	SamplesRate float64   `toml:"-" json:"-"`

	Sounds []RoomSound `toml:"sound"`
}

// RoomSound is something heard in the room for a while.
type RoomSound struct {
	// Kind is "slam" (a door), "lorry" (a slow loud swell of low frequency),
	// "gust" (wind on the microphone), "knock" (one short sound like a
	// contact's), or one of Textures(), which is then heard for a while.
	Kind string `toml:"kind"`
	Occasion
	For   float64 `toml:"for_s"`    // duration, seconds; 0 means a customary one
	Level float64 `toml:"level_db"` // its greatest RMS, of slam and knock the peak, above the peak of the tick, dB
}

func (r Room) withDefaults() Room {
	if r.Noise == "" {
		r.Noise = "white"
	}
	setDefault(&r.SNR, 40)
	setDefault(&r.HumLevel, -20)
	return r
}

// open opens a channel's noise; nil where there is none.
func (r Room) open(seed uint64, channel int, rate float64) texture {
	s := uint64(noiseStream) + uint64(channel)
	switch {
	case r.Samples != nil:
		return newLoop(r.Samples, r.SamplesRate, rate, seed, s)
	case r.Noise == "none":
		return nil
	}
	return newTexture(r.Noise, seed, s, rate)
}

// noise opens a channel's noise and returns its gain; peak is that of the tick
// in full scale.
func (r Room) noise(seed uint64, channel int, peak, rate float64) (texture, float32) {
	t := r.open(seed, channel, rate)
	if t == nil {
		return nil, 0
	}
	l := measure(r.open(seed, channel, rate), hearing, rate)
	if r.Level != 0 {
		return t, float32(decibels(r.Level) / l.rms)
	}
	return t, float32(peak * decibels(-r.SNR) / l.band)
}

// hearing is for how many seconds a texture is measured.
const hearing = 8

// loudness is how loud a texture is over some seconds.
type loudness struct {
	rms  float64 // over all frequencies
	band float64 // RMS from 1.5 to 16 kHz, or to Nyquist's frequency
	peak float64
}

// measure listens to a texture for about so many seconds.
func measure(t texture, seconds, rate float64) (l loudness) {
	size := 256
	for float64(size) < rate/4 {
		size *= 2
	}
	count := int(seconds*rate)/size + 1
	fft := fourier.NewFFT(size)
	samples := make([]float32, size)
	x := make([]float64, size)
	bins := make([]complex128, size/2+1)
	for range count {
		t.fill(samples)
		l.peak = max(l.peak, greatest(samples))
		for i, v := range samples {
			x[i] = float64(v)
			l.rms += x[i] * x[i]
		}
		// Hann's window has a mean square of 3/8; each bin stands for two.
		fft.Coefficients(bins, window.Hann(x))
		for k, c := range bins {
			if f := float64(k) * rate / float64(size); f >= 1500 && f <= 16000 {
				l.band += 2 * (real(c)*real(c) + imag(c)*imag(c)) / (float64(size) * 3 / 8)
			}
		}
	}
	n := float64(size * count)
	l.rms, l.band = math.Sqrt(l.rms/n), math.Sqrt(l.band/n)
	return l
}

// hum is the mains' hum: harmonics that fall off, the odd ones stronger. It is
// kept as a stretch of twenty periods.
type hum struct {
	period []float32
	pos    int
}

func newHum(seed, s uint64, hz, rate float64) *hum {
	rng := newRand(seed, s)
	h := &hum{period: make([]float32, int(math.Round(20*rate/hz)))}
	for k := 1; k <= 12; k++ {
		gain := 1 / float64(k)
		if k%2 == 0 {
			gain /= 3
		}
		newTone(gain, 20*float64(k)/float64(len(h.period)), 2*math.Pi*rng.Float64(), 1).add(h.period)
	}
	var power float64
	for _, v := range h.period {
		power += float64(v) * float64(v)
	}
	scale(h.period, float32(math.Sqrt(float64(len(h.period))/power)))
	return h
}

func (h *hum) fill(dst []float32) {
	for len(dst) > 0 {
		n := copy(dst, h.period[h.pos:])
		dst = dst[n:]
		h.pos = (h.pos + n) % len(h.period)
	}
}

// tone is a steady or decaying oscillation by rotation of a phasor.
type tone struct{ state, turn complex128 }

func newTone(gain, hz, phase, rate float64) *tone {
	return newRing(gain, hz, phase, math.Inf(1), rate)
}

// newRing returns a tone that decays with a time constant in seconds.
func newRing(gain, hz, phase, decay, rate float64) *tone {
	sin, cos := math.Sincos(phase)
	turnSin, turnCos := math.Sincos(2 * math.Pi * hz / rate)
	r := math.Exp(-1 / (decay * rate))
	return &tone{complex(gain*cos, gain*sin), complex(r*turnCos, r*turnSin)}
}

func (t *tone) add(dst []float32) {
	s := t.state
	for i := range dst {
		dst[i] += float32(imag(s))
		s *= t.turn
	}
	t.state = s
}
