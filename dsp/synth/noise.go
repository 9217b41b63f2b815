package synth

import (
	"math"
	"math/rand/v2"
	"sync"
)

// normalBits is the width of a draw from the table of normal deviates: four
// draws come out of one 64-bit number.
const normalBits = 14

// normals returns the quantiles of the normal distribution at the middles of
// 2^normalBits equal steps of probability, scaled to unit variance. They reach
// to ±4 standard deviations.
var normals = sync.OnceValue(func() *[1 << normalBits]float32 {
	table := new([1 << normalBits]float32)
	var sum float64
	quantile := func(i int) float64 {
		return math.Sqrt2 * math.Erfinv((2*float64(i)+1)/(1<<normalBits)-1)
	}
	for i := range table {
		sum += quantile(i) * quantile(i)
	}
	scale := 1 / math.Sqrt(sum/(1<<normalBits))
	for i := range table {
		table[i] = float32(scale * quantile(i))
	}
	return table
})

// texture is an endless sound of the room, made sample by sample.
type texture interface {
	// fill overwrites dst with what follows.
	fill(dst []float32)
}

// white is normal noise of unit variance.
type white struct {
	pcg   *rand.PCG
	table *[1 << normalBits]float32
	bits  uint64
	left  int // draws left in bits
}

func newWhite(seed, s uint64) *white { return &white{pcg: rand.NewPCG(seed, s), table: normals()} }

func (w *white) fill(dst []float32) {
	const mask = 1<<normalBits - 1
	for len(dst) > 0 && w.left > 0 {
		dst[0] = w.one()
		dst = dst[1:]
	}
	for len(dst) >= 4 {
		b := w.pcg.Uint64()
		dst[0] = w.table[b&mask]
		dst[1] = w.table[b>>normalBits&mask]
		dst[2] = w.table[b>>(2*normalBits)&mask]
		dst[3] = w.table[b>>(3*normalBits)&mask]
		dst = dst[4:]
	}
	for i := range dst {
		dst[i] = w.one()
	}
}

// one returns the next sample.
func (w *white) one() float32 {
	if w.left == 0 {
		w.bits, w.left = w.pcg.Uint64(), 4
	}
	v := w.table[w.bits&(1<<normalBits-1)]
	w.bits >>= normalBits
	w.left--
	return v
}

// sloped is white noise through first-order sections with one pole and one zero
// each: a spectrum that falls in steps.
type sloped struct {
	white *white
	pole  []float32
	zero  []float32
	state []float32
}

// newPink returns noise whose power falls by 10 dB a decade from 10 Hz on:
// poles stand two octaves apart, with a zero an octave above each.
func newPink(seed, s uint64, rate float64) *sloped {
	p := &sloped{white: newWhite(seed, s)}
	for f := 10.0; f < rate/4; f *= 4 {
		p.section(f, 2*f, rate)
	}
	return p
}

// newBrown returns noise whose power falls by 20 dB a decade above 30 Hz.
func newBrown(seed, s uint64, rate float64) *sloped {
	p := &sloped{white: newWhite(seed, s)}
	p.section(30, rate, rate)
	return p
}

// section adds a section with its pole and zero at the given frequencies; a
// zero at the sample rate or above is left out.
func (p *sloped) section(pole, zero, rate float64) {
	at := func(f float64) float32 { return float32(math.Exp(-2 * math.Pi * f / rate)) }
	p.pole = append(p.pole, at(pole))
	z := float32(0)
	if zero < rate {
		z = at(zero)
	}
	p.zero = append(p.zero, z)
	p.state = append(p.state, 0)
}

func (p *sloped) fill(dst []float32) {
	p.white.fill(dst)
	for k, pole := range p.pole {
		zero, s := p.zero[k], p.state[k]
		for i, x := range dst {
			next := x + pole*s
			dst[i] = next - zero*s
			s = next
		}
		p.state[k] = s
	}
}

// loop repeats a recording at the wanted rate, its end faded into its start.
type loop struct {
	samples []float32
	step    float64 // samples of the recording a frame
	pos     float64 // next sample, fractional
	fade    int     // samples at the end that are faded into those at the start
}

// newLoop starts at a random place of samples, which must not be empty.
func newLoop(samples []float32, from, to float64, seed, s uint64) *loop {
	l := &loop{samples: samples, step: from / to, fade: min(int(from/20), len(samples)/4)}
	l.pos = newRand(seed, s).Float64() * float64(len(samples)-l.fade)
	return l
}

func (l *loop) fill(dst []float32) {
	period := float64(len(l.samples) - l.fade)
	for i := range dst {
		whole := int(l.pos)
		part := float32(l.pos - float64(whole))
		a, b := l.at(whole), l.at(whole+1)
		dst[i] = a + part*(b-a)
		if l.pos += l.step; l.pos >= period {
			l.pos -= period
		}
	}
}

// at returns sample i of the loop; the first ones are mixed with the end.
func (l *loop) at(i int) float32 {
	period := len(l.samples) - l.fade
	if i >= period {
		i -= period
	}
	if i >= l.fade {
		return l.samples[i]
	}
	x := float32(i) / float32(l.fade)
	return x*l.samples[i] + (1-x)*l.samples[period+i]
}
