package recorder

import (
	"math"
	"math/cmplx"
	"slices"

	"gonum.org/v1/gonum/dsp/fourier"
	"gonum.org/v1/gonum/dsp/window"

	"rundown/dsp/wavio"
)

// Level is how loud a second of a recording is besides the beats. Powers are those
// of full scale ±1.
type Level struct {
	Quiet  float32    // what a twentieth of its blocks lie below at a glance
	Offset float32    // mean
	Hum    [2]float32 // power at mains of 50 Hz and of 60 Hz, and at their overtones
	Floor  [2]float32 // of it, what is noise
}

// mains are the frequencies of the mains in hertz.
var mains = [2]float64{50, 60}

const (
	// picks is how many samples of a second are looked at, about: enough for hum.
	picks = 800
	// overtones of the mains are listened to, as far as picks hold them.
	overtones = 6
	// seldom is how many seconds there are to one that is listened to for hum.
	seldom = 8
)

// Meter takes the levels of a recording.
type Meter struct {
	rate  float64
	count int
	last  Level
	fft   *fourier.FFT
	hann  window.Values
	x     []float32
	y     []float64
	bins  []complex128
	sort  []float32
}

// NewMeter returns one for a sample rate in hertz.
func NewMeter(rate float64) *Meter { return &Meter{rate: rate} }

// Take takes the level of the next second, of which rough says how loud its blocks
// are at a glance.
func (m *Meter) Take(s *wavio.Stored, rough []float32) Level {
	step := max(1, int(m.rate/picks))
	n := s.Len() / step
	if n < picks/8 || len(rough) == 0 {
		return m.last // the recording ends in it
	}
	m.sort = m.sort[:0]
	for i := 0; i < len(rough); i += 8 { // some will do
		m.sort = append(m.sort, rough[i])
	}
	slices.Sort(m.sort)
	m.last.Quiet = m.sort[len(m.sort)/20]
	m.x = slices.Grow(m.x[:0], n)[:n]
	s.Every(m.x, 0, step)
	var sum float64
	for _, v := range m.x {
		sum += float64(v)
	}
	mean := sum / float64(n)
	m.last.Offset = float32(mean)
	if m.count%seldom == 0 {
		m.hum(mean, m.rate/float64(step))
	}
	m.count++
	return m.last
}

// hum listens to the picks, of a mean, at a rate in hertz.
func (m *Meter) hum(mean, rate float64) {
	n := len(m.x)
	if m.fft == nil || m.fft.Len() != n {
		m.fft, m.hann = fourier.NewFFT(n), window.NewValues(window.Hann, n)
	}
	m.y = m.y[:0]
	for _, v := range m.x {
		m.y = append(m.y, float64(v)-mean)
	}
	m.bins = m.fft.Coefficients(slices.Grow(m.bins[:0], n/2+1)[:n/2+1], m.hann.Transform(m.y))
	power := func(bin int) float64 {
		a := cmplx.Abs(m.bins[bin])
		return 2 * a * a / (float64(n) * float64(n) * 3 / 8) // of Hann's window the mean square is 3/8
	}
	for k, hz := range mains {
		var tone, floor float64
		for i := 1.0; i <= overtones; i++ {
			at := int(math.Round(i * hz * float64(n) / rate))
			if at+4 > n/2 {
				break
			}
			for d := -1; d <= 1; d++ {
				tone += power(at + d)
			}
			floor += 0.75 * (power(at-4) + power(at-3) + power(at+3) + power(at+4))
		}
		m.last.Hum[k], m.last.Floor[k] = float32(tone), float32(floor)
	}
}
