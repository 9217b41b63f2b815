package calibrate

import (
	"math"
	"math/cmplx"

	"gonum.org/v1/gonum/dsp/fourier"
)

const (
	toneSpan   = 1.0   // over which one mark of a tone is averaged, s
	toneBlock  = 0.005 // at which the tone is brought down to the base band, s
	toneSearch = 1e-3  // by how much its frequency may be off, as a part of it
)

// demodulator finds the phase of a tone.
type demodulator struct {
	hz, rate float64
	size     int        // frames in a block
	turn     complex128 // of the oscillator, a frame
	phase    complex128
	n        int // frames in the block being summed
	sum      complex128
	power    float64      // of the signal, summed
	base     []complex128 // blocks not used yet
	first    int64        // number of base[0]
	frames   int64

	offset float64 // of the tone from hz, cycles a block
	known  bool
	usual  float64 // magnitude of a span of tone

	turns float64 // phase of the last span, without the offset, cycles
	last  float64 // block number of its middle
	drift float64 // of the phase, cycles a span
	heard float64 // spans since the count of cycles began
}

func newDemodulator(hz, rate float64) *demodulator {
	return &demodulator{
		hz: hz, rate: rate, size: int(math.Round(toneBlock * rate)),
		turn: cmplx.Rect(1, -2*math.Pi*hz/rate), phase: 1,
	}
}

// spanBlocks is how many blocks a mark averages.
const spanBlocks = int(toneSpan / toneBlock)

// learnSpans is how many spans settle the frequency.
const learnSpans = 8

func (d *demodulator) append(x []float32, found func(Mark)) {
	for _, v := range x {
		d.sum += complex(float64(v), 0) * d.phase
		d.power += float64(v) * float64(v)
		d.phase *= d.turn
		if d.n++; d.n == d.size {
			d.block()
			d.use(found)
		}
	}
}

// block ends a block, and takes the oscillator's phase afresh from the count of
// frames, so that rounding does not pile up.
func (d *demodulator) block() {
	d.base = append(d.base, d.sum/complex(float64(d.size), 0))
	d.frames += int64(d.size)
	_, turns := math.Modf(d.hz / d.rate * float64(d.frames))
	d.phase = cmplx.Rect(1, -2*math.Pi*turns)
	d.sum, d.n = 0, 0
}

func (d *demodulator) flush(func(Mark)) {}

// use turns finished blocks into marks.
func (d *demodulator) use(found func(Mark)) {
	if !d.known {
		if len(d.base) < learnSpans*spanBlocks {
			return
		}
		if !d.learn() {
			d.drop(spanBlocks)
			return
		}
	}
	for len(d.base) >= spanBlocks {
		d.span(found)
		d.drop(spanBlocks)
	}
}

func (d *demodulator) drop(n int) {
	d.base = append(d.base[:0], d.base[n:]...)
	d.first += int64(n)
}

// learn finds the frequency of the tone: the greatest line of the base band
// within reach, if it holds the better part of the power.
func (d *demodulator) learn() bool {
	const pad = 8
	padded := make([]complex128, pad*len(d.base))
	for i, v := range d.base {
		padded[i] = v * complex(0.5-0.5*math.Cos(2*math.Pi*(float64(i)+0.5)/float64(len(d.base))), 0)
	}
	fft := fourier.NewCmplxFFT(len(padded))
	spectrum := fft.Coefficients(nil, padded)
	reach := max(d.hz*toneSearch, 0.2) * float64(d.size) / d.rate
	best, most := 0.0, -1.0
	var total float64
	for k, v := range spectrum {
		a := cmplx.Abs(v)
		total += a * a
		if f := fft.Freq(k); math.Abs(f) <= reach && a > most {
			best, most = f, a
		}
	}
	// A line of Hann's window has 1.5 bins of noise, each padded to many.
	d.usual = 2 * most / float64(len(d.base))
	// A sound far from the base band leaks into it, 60 dB down or more.
	power := d.power / float64(d.frames)
	if total == 0 || most*most*1.5*pad < 0.25*total || 2*d.usual*d.usual < 1e-5*power {
		return false
	}
	d.offset, d.known = best, true
	return true
}

// span makes a mark of the next second.
func (d *demodulator) span(found func(Mark)) {
	var sum complex128
	for i, v := range d.base[:spanBlocks] {
		w := 1 - math.Cos(2*math.Pi*(float64(i)+0.5)/float64(spanBlocks))
		_, turns := math.Modf(d.offset * float64(d.first+int64(i)))
		sum += v * cmplx.Rect(w/float64(spanBlocks), -2*math.Pi*turns)
	}
	middle := float64(d.first) + float64(spanBlocks-1)/2
	a := cmplx.Abs(sum)
	if a < 0.3*d.usual || a > 3*d.usual {
		return
	}
	fresh := false
	turns := cmplx.Phase(sum) / (2 * math.Pi)
	if d.heard > 0 {
		apart := (middle - d.last) / float64(spanBlocks)
		expected := d.turns + d.drift*apart
		turns += math.Round(expected - turns)
		// The frequency is known to some millionths; after a long loss, nobody
		// knows how many cycles have passed.
		fresh = math.Abs(turns-expected) > 0.25 || 2e-6*d.hz*(apart-1)*toneSpan > 0.25
		gain := max(0.1, 1/(d.heard+1))
		if fresh {
			d.heard = 0
		} else {
			d.drift += gain * ((turns-d.turns)/apart - d.drift)
		}
	}
	d.heard++
	d.turns, d.last = turns, middle
	// The mean frame of a block is its middle.
	frame := (middle+0.5)*float64(d.size) - 0.5
	cycles := d.hz*frame/d.rate + d.offset*middle + turns
	found(Mark{Frame: frame, Seconds: cycles / d.hz, Fresh: fresh})
}
