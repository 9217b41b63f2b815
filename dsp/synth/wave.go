package synth

import (
	"math"
	"math/cmplx"
	"slices"

	"gonum.org/v1/gonum/dsp/fourier"
)

// wave is a short sound, sampled at the recorder's rate once for each of many
// fractions of a sample by which it may be late. It is band-limited, as what a
// converter delivers is, hence exact at any instant.
type wave struct {
	phases int         // fractions of a sample
	shapes [][]float32 // phases+1 of them; the last is the first one, a sample later
}

// lead is how many samples of a wave lie before its onset: room for the
// ringing of the band limit.
const lead = 24

// longest is how long a wave may be, seconds; what rings on is cut off.
const longest = 1

// newWave samples the sum of modes at rate frames a second, until it has
// decayed by 80 dB.
func newWave(modes []mode, rate float64) *wave {
	slowest := math.Inf(1)
	for _, m := range modes {
		slowest = min(slowest, m.damping)
	}
	return sampleWave(func(f float64) (sum complex128) {
		for _, m := range modes {
			sum += m.spectrum(f)
		}
		return sum
	}, min(math.Log(1e4)/slowest, longest), rate)
}

// sampleWave samples the sound with a given Fourier transform and duration.
func sampleWave(spectrum func(f float64) complex128, duration, rate float64) *wave {
	length := lead + int(duration*rate) + lead
	n := 64
	for n < length+length/4 {
		n *= 2
	}
	band := make([]complex128, n/2+1)
	for k := range band {
		f := float64(k) * rate / float64(n)
		band[k] = spectrum(f) * complex(rate/float64(n)*bandLimit(f, rate), 0)
	}
	// Between neighbouring phases the shape is interpolated along a straight
	// line: at 64 a sample, its error lies 70 dB down even at Nyquist's
	// frequency; the highest mode, 16 kHz, needs fewer where the rate is higher.
	w := &wave{phases: 64}
	for r := rate; r > 50000 && w.phases > 16; r /= 2 {
		w.phases /= 2
	}
	fft := fourier.NewFFT(n)
	turned := make([]complex128, len(band))
	sequence := make([]float64, n)
	for p := range w.phases {
		late := lead + float64(p)/float64(w.phases)
		for k := range band {
			turned[k] = band[k] * cmplx.Rect(1, -2*math.Pi*float64(k)/float64(n)*late)
		}
		fft.Sequence(sequence, turned)
		w.shapes = append(w.shapes, narrow(sequence[:length]))
	}
	w.shapes = append(w.shapes, append([]float32{0}, w.shapes[0][:length-1]...))
	return w
}

// bandLimit is the response of the recorder's converter: flat to 0.8 of
// Nyquist's frequency, then falling to nothing as a raised cosine.
func bandLimit(f, rate float64) float64 {
	x := (f/(rate/2) - 0.8) / 0.2
	if x <= 0 {
		return 1
	}
	return (1 + math.Cos(math.Pi*min(x, 1))) / 2
}

func narrow(x []float64) []float32 {
	y := make([]float32, len(x))
	for i, v := range x {
		y[i] = float32(v)
	}
	return y
}

// shot is a wave on its way into the recording.
type shot struct {
	early, late []float32 // the shapes on both sides of the onset's fraction; a nil late one counts nothing
	a, b        float32   // their gains
	start       int64     // frame of their first sample
}

// at places a wave with its onset at a frame, which may be fractional.
func (w *wave) at(frame, gain float64) shot {
	whole := math.Floor(frame)
	p, part := math.Modf((frame - whole) * float64(w.phases))
	return shot{
		early: w.shapes[int(p)],
		late:  w.shapes[int(p)+1],
		a:     float32(gain * (1 - part)),
		b:     float32(gain * part),
		start: int64(whole) - lead,
	}
}

// shots are sounds of which some are still to be heard.
type shots []shot

// add adds all to dst, whose first sample is frame start, and leaves those that sound
// on after it.
func (all *shots) add(dst []float32, start int64) {
	for i := range *all {
		(*all)[i].add(dst, start)
	}
	*all = slices.DeleteFunc(*all, func(s shot) bool { return s.end() <= start+int64(len(dst)) })
}

// end returns the frame after the shot's last sample.
func (s *shot) end() int64 { return s.start + int64(len(s.early)) }

// add adds to dst, whose first sample is frame start, what falls into it.
func (s *shot) add(dst []float32, start int64) {
	from := max(s.start, start)
	to := min(s.end(), start+int64(len(dst)))
	if from >= to {
		return
	}
	out := dst[from-start : to-start]
	early := s.early[from-s.start : to-s.start]
	if s.late == nil {
		for i := range out {
			out[i] += s.a * early[i]
		}
		return
	}
	late := s.late[from-s.start : to-s.start]
	for i := range out {
		out[i] += s.a*early[i] + s.b*late[i]
	}
}

// instrument is the movement's sound as one microphone position hears it.
type instrument struct {
	waves  [2][3]*wave   // by side and contact
	places [2][3]float64 // lift times after the passage through rest
	gain   [2]float64    // brings the peak of each side's beat to 1
	single [2]float64    // brings the peak of each side's drop, alone, to 1
}

// newInstrument draws the sound number position of a seed, for beats whose lift
// takes lift seconds.
func newInstrument(s Sound, seed uint64, position int, lift, rate float64) *instrument {
	rng := stream(seed, modeStream+purpose(position))
	in := new(instrument)
	for side := range in.waves {
		for i, c := range s.drawContacts(rng) {
			in.places[side][i] = c.place
			in.waves[side][i] = newWave(c.modes, rate)
		}
		in.gain[side] = 1 / in.peak(side, lift, rate)
		in.single[side] = 1 / in.waves[side][2].peak()
	}
	return in
}

// peak returns the greatest deflection of a side's beat, between the samples
// as well as on them.
func (in *instrument) peak(side int, lift, rate float64) (peak float64) {
	span := 0
	for _, w := range in.waves[side] {
		span = max(span, len(w.shapes[0]))
	}
	first := lead + lift/2*rate
	sum := make([]float32, span+int(lift*rate)+2*lead)
	for p := range 4 {
		clear(sum)
		for i, w := range in.waves[side] {
			s := w.at(first+in.places[side][i]*lift*rate+float64(p)/4, 1)
			s.add(sum, 0)
		}
		peak = max(peak, greatest(sum))
	}
	return peak
}

// peak returns the greatest deflection of the wave, between the samples as well
// as on them.
func (w *wave) peak() (peak float64) {
	for _, shape := range w.shapes {
		peak = max(peak, greatest(shape))
	}
	return peak
}

func greatest(x []float32) (peak float64) {
	for _, v := range x {
		peak = max(peak, math.Abs(float64(v)))
	}
	return peak
}

// sideOf returns the index of a side.
func sideOf(tock bool) int {
	if tock {
		return 1
	}
	return 0
}
