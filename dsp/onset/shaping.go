package onset

import (
	"math"
	"slices"
	"sync"

	"github.com/mjibson/go-dsp/spectral"
	"github.com/mjibson/go-dsp/window"
)

const (
	// welchSize is the length of the segments of a Welch spectrum, in frames at
	// 48 kHz: bins of 190 Hz.
	welchSize = 256
	// enough segments leave a standard error of 6 % a bin (1 over the square root
	// of their number), of less than 4 % once smoothed.
	enough = 256
)

// Shaping is what the room's spectrum says of how to listen: it whitens the
// room, so that a match of sounds weighs each frequency by how little noise is
// there.
type Shaping struct {
	Rate float64 // sample rate, Hz
	// Room is the power spectrum of the room at multiples of Rate/2/(len−1),
	// one-sided, scaled such that white noise of variance v has 2v throughout.
	Room  []float64
	Beat  []float64 // likewise while beats sound
	gains sync.Map  // what gain has returned, by length
}

// NewShaping takes the Welch spectra of the stretches of x in which beats sound
// and of those in which they don't: starts are the frames at which a beat sets
// in, sound and rest how many frames it lasts and after how many it has died
// away. Of many beats it takes some, evenly spaced, as many as the spectra need.
func NewShaping(x []float32, rate float64, starts []int, sound, rest int) *Shaping {
	size := welchSize
	for float64(size) < welchSize*rate/48000 {
		size *= 2
	}
	beats := make([]stretch, 0, len(starts))
	room := make([]stretch, 0, len(starts))
	for i, at := range starts {
		beats = append(beats, stretch{max(0, at-size/8), (max(size, sound) + size/2) / size})
		end := len(x)
		if i+1 < len(starts) {
			end = starts[i+1]
		}
		room = append(room, stretch{at + rest, (end - size/4 - (at + rest)) / size})
	}
	s := &Shaping{Rate: rate}
	s.Beat, s.Room = welch(x, beats, size, rate), welch(x, room, size, rate)
	if s.Room == nil { // beats that never die away: all noise is alike then
		s.Room = make([]float64, size/2+1)
		for i := range s.Room {
			s.Room[i] = 1
		}
	}
	if s.Beat == nil {
		s.Beat = s.Room
	}
	// Smooth, so that the whitening filter is short; and no deeper than 50 dB,
	// so that a recorder's steep low-pass does not become a gain.
	s.Room = smoothLog(s.Room)
	top := 0.0
	for _, v := range s.Room {
		top = max(top, v)
	}
	for i, v := range s.Room {
		s.Room[i] = max(v, 1e-5*top, 1e-30)
	}
	return s
}

// stretch is a part of a recording.
type stretch struct{ from, segments int }

// welch returns the spectrum of the stretches that x holds, of segments of size
// frames that don't overlap, so that none spans two stretches; nil where there
// is none.
func welch(x []float32, stretches []stretch, size int, rate float64) []float64 {
	stretches = slices.DeleteFunc(stretches, func(s stretch) bool {
		return s.segments < 1 || s.from+s.segments*size > len(x)
	})
	all := 0
	for _, s := range stretches {
		all += s.segments
	}
	if all == 0 {
		return nil
	}
	// Steps of the golden ratio take any part of the stretches as often as any
	// other.
	share := float64(enough) / float64(all)
	frames := make([]float64, 0, min(all, enough+8)*size)
	at := 0.0
	for _, s := range stretches {
		for k := range s.segments {
			if _, at = math.Modf(at + math.Phi); at >= share {
				continue
			}
			for _, v := range x[s.from+k*size:][:size] {
				frames = append(frames, float64(v))
			}
		}
	}
	hann := window.Hann(size)
	options := &spectral.PwelchOptions{NFFT: size, Window: func(int) []float64 { return hann }, Scale_off: true}
	mean, _ := spectral.Pwelch(frames, rate, options)
	return mean
}

// smoothLog returns p averaged over a third of an octave, and at least three
// bins, in the logarithm.
func smoothLog(p []float64) []float64 {
	sum := make([]float64, len(p)+1)
	for i, v := range p {
		sum[i+1] = sum[i] + math.Log(v+1e-30)
	}
	out := make([]float64, len(p))
	for i := range p {
		h := max(1, int(0.12*float64(i)))
		a, b := max(0, i-h), min(len(p), i+h+1)
		out[i] = math.Exp((sum[b] - sum[a]) / float64(b-a))
	}
	return out
}

// gain returns the whitening gains for a transform of n frames, n/2+1 of them:
// the inverse square root of the room's power density, nothing below 300 Hz,
// where rooms rumble and mechanisms don't tick.
func (s *Shaping) gain(n int) []float64 {
	if g, ok := s.gains.Load(n); ok {
		return g.([]float64)
	}
	g := make([]float64, n/2+1)
	scale := float64(len(s.Room)-1) / float64(n/2)
	for k := range g {
		hz := float64(k) * s.Rate / float64(n)
		if hz < 300 || k == n/2 {
			continue
		}
		at := float64(k) * scale
		i := min(int(at), len(s.Room)-2)
		f := at - float64(i)
		p := s.Room[i]*(1-f) + s.Room[i+1]*f
		g[k] = min(1, (hz-300)/300) / math.Sqrt(p)
	}
	s.gains.Store(n, g)
	return g
}

// Best returns the centre in Hz and the quality of the second-order band-pass
// in whose output the energy of the beat stands out most clearly: that of the
// greatest deflection of an energy detector, the ratio of signal to noise power
// times the square root of the bandwidth.
func (s *Shaping) Best() (centre, q float64) {
	most := -1.0
	top := min(0.42*s.Rate, 20000)
	for c := 400.0; c <= top; c *= math.Pow(2, 0.25) {
		for _, quality := range []float64{0.35, 0.7, 1.4} {
			var signal, noise float64
			for k := 1; k < len(s.Room)-1; k++ {
				hz := float64(k) * s.Rate / 2 / float64(len(s.Room)-1)
				d := quality * (hz/c - c/hz)
				h := 1 / (1 + d*d)
				signal += h * max(0, s.Beat[k]-s.Room[k])
				noise += h * s.Room[k]
			}
			if v := signal / noise * math.Sqrt(c/quality); v > most {
				most, centre, q = v, c, quality
			}
		}
	}
	return centre, q
}
