package fault

import (
	"math"
	"math/cmplx"
	"slices"
)

const (
	// significant is the p-value below which a recurrence is listed.
	significant = 1e-3
	// maxWaves bounds the waves that are looked for in one series.
	maxWaves = 12
)

// modulation is a wave found, before it has a name.
type modulation struct {
	period float64 // beats
	latest float64 // a latest point, in beats from the first one
	size   float64 // peak-to-peak, seconds
	turns  int
	logp   float64
	part   int // index of the part of the train that turns at the period, or -1
}

// modulations returns the waves in the series, in the order found.
func (q *search) modulations(parts []part) []modulation {
	var list []modulation
	known := make([]float64, len(parts))
	for i, p := range parts {
		known[i] = float64(q.s.step) / p.period
	}
	for len(q.found) < maxWaves && q.s.n >= minSamples {
		sp := q.spectrum()
		c := sp.strongest(known, q.s.step)
		if c.logp > math.Log(significant) {
			break
		}
		if m, ok := q.settle(sp, c, parts, known); ok {
			list = append(list, m)
		}
	}
	return list
}

// minSamples is the shortest series worth a spectrum.
const minSamples = 128

// settle works out what wave a claim stands for and takes it out. ok is false
// where it is not steady enough for something that turns, or belongs to the
// shape of a wave found before.
func (q *search) settle(sp *spectrum, c claim, parts []part, known []float64) (m modulation, ok bool) {
	own := func(f float64) bool { return slices.ContainsFunc(known, func(g float64) bool { return q.same(f, g) }) }
	freq, part := c.freq, slices.Index(known, c.freq)
	if part < 0 {
		freq = q.locate(sp, c)
		part = q.match(sp, freq, known)
	}
	if part < 0 && c.harmonics == 0 {
		freq = sp.fundamental(freq, q.low, own)
		part = q.match(sp, freq, known)
	}
	if part < 0 {
		freq, part = q.ofPart(sp, freq, known)
	}
	list, _ := sp.harmonics(freq, own)
	switch g := lowest(list); {
	case part >= 0:
		freq = known[part]
	case g > 1:
		freq *= float64(g)
		list, _ = sp.harmonics(freq, own)
		fallthrough
	default:
		freq = q.whole(sp.polish(freq, list), max(1, slices.Max(append(list, 1))))
	}
	for j := 1; j <= max(1, c.harmonics); j++ {
		if !slices.Contains(list, j) {
			list = append(list, j)
		}
	}
	slices.Sort(list)
	w, steady := q.measure(freq, list, sp)
	ok = steady && (part >= 0 || !q.overtone(freq))
	q.take(w)
	size, latest := w.extremes()
	return modulation{
		period: float64(q.s.step) / freq,
		latest: q.s.offset + latest*float64(q.s.step)/freq,
		size:   size,
		turns:  q.turnsOf(freq),
		logp:   c.logp,
		part:   part,
	}, ok
}

// ofPart returns the part of which freq is a harmonic, with its frequency, where
// the part's own line is there as well; else freq and -1.
func (q *search) ofPart(sp *spectrum, freq float64, known []float64) (float64, int) {
	for i, f := range known {
		j := math.Round(freq / f)
		if k := sp.bin(f); j >= 2 && j <= deepest && q.same(freq, j*f) && k >= 0 && sp.evidence[k] > aloneLine {
			return f, i
		}
	}
	return freq, -1
}

// same tells whether two frequencies can't be told apart in one segment.
func (q *search) same(f, g float64) bool { return math.Abs(f-g)*float64(q.s.length()) < 0.5 }

// locate returns the exact frequency of a claim: that of its strongest harmonic,
// divided.
func (q *search) locate(sp *spectrum, c claim) float64 {
	strongest := 1
	for j := 2; j <= c.harmonics; j++ {
		if k := sp.bin(float64(j) * c.freq); k >= 0 && sp.power[k] > sp.power[sp.bin(float64(strongest)*c.freq)] {
			strongest = j
		}
	}
	return q.refine(float64(strongest)*c.freq) / float64(strongest)
}

// whole returns freq as that of a whole number of beats, if the harmonics, of
// which the highest is given, are that near to it and tell it from the next one.
func (q *search) whole(freq float64, highest int) float64 {
	const near, apart = 0.2, 0.6 // turns in a segment
	turns := float64(q.s.length() * highest)
	p := math.Round(1 / freq)
	if q.s.step == 1 && math.Abs(freq-1/p)*turns < near && turns/(p*p) > apart {
		return 1 / p
	}
	return freq
}

// overtone tells whether freq is a harmonic of a wave found before: one of the
// first, or any of a wave that is rich in them, be it faster than the beats can
// show and hence seen at its difference from their number.
func (q *search) overtone(freq float64) bool {
	const rich = 4
	return slices.ContainsFunc(q.found, func(w *wave) bool {
		j, mirrored := math.Round(freq/w.freq), math.Round((1-freq)/w.freq)
		if w.count() >= rich {
			return j >= 2 && q.same(freq, j*w.freq) || q.same(1-freq, mirrored*w.freq)
		}
		return j >= 2 && j <= deepest && q.same(freq, j*w.freq)
	})
}

// match returns the frequency among known that can't be told from freq, by its
// index, or -1: the power there is short of that of the line by no more than
// noise, or a frequency slightly pulled by the drift, would make it.
func (q *search) match(sp *spectrum, freq float64, known []float64) int {
	const pulled, noisy = 0.02, 5 // of the power; times the noise
	if len(known) == 0 {
		return -1
	}
	at := q.lines(append([]float64{freq}, known...))
	least := (1-pulled)*at[0].power - noisy*sp.floor.at(freq*float64(sp.length))
	best := -1
	for i, l := range at[1:] {
		if q.same(freq, known[i]) && l.power > least && (best < 0 || l.power > at[best+1].power) {
			best = i
		}
	}
	return best
}

// measure returns the wave of the given harmonics of freq. It is steady where
// its strongest harmonic is.
func (q *search) measure(freq float64, list []int, sp *spectrum) (w *wave, steady bool) {
	freqs := make([]float64, len(list))
	for i, j := range list {
		freqs[i] = float64(j) * freq
	}
	w = &wave{freq: freq, harmonics: make([]complex128, list[len(list)-1])}
	top := 0.0
	for i, l := range q.lines(freqs) {
		a := l.amplitude()
		// Noise adds its own share to the square of an amplitude.
		noise := sp.floor.at(freqs[i]*float64(sp.length)) * float64(q.s.segments()) / l.power
		w.harmonics[list[i]-1] = a * complex(math.Sqrt(max(0, 1-noise)), 0)
		if cmplx.Abs(a) > top {
			top, steady = cmplx.Abs(a), l.steady()
		}
	}
	return w, steady
}
