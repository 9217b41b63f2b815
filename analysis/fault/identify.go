package fault

import (
	"math"
	"slices"
)

// deepest is the highest harmonic that is taken for one of a wave where nothing
// but the number speaks for it. Neighbouring arbors seldom differ by less.
const deepest = 5

// identify works out at which frequency the wave of a claim has its fundamental,
// in cycles per value, and which part of the train that is, by its index, or -1.
func (q *search) identify(sp *spectrum, c claim) (freq float64, part int) {
	if part = slices.Index(q.known, c.freq); part >= 0 {
		return c.freq, part
	}
	freq = q.locate(sp, c)
	part = q.match(sp, freq)
	if part < 0 && c.harmonics == 0 {
		freq = sp.fundamental(freq, q.low, q.own)
		part = q.match(sp, freq)
	}
	if part < 0 {
		part = q.partWith(sp, freq)
	}
	if part >= 0 {
		freq = q.known[part]
	}
	return freq, part
}

// own reports whether a frequency is that of a part of the train.
func (q *search) own(freq float64) bool {
	return slices.ContainsFunc(q.known, func(f float64) bool { return q.same(f, freq) })
}

// shape returns which harmonics the wave of a claim has, ascending, and with
// their help its exact frequency.
func (q *search) shape(sp *spectrum, c claim, freq float64, part int) (exact float64, list []int) {
	list = sp.harmonics(freq, q.own)
	if part < 0 {
		if whole, all := q.comb(sp, freq, list); all != nil {
			return whole, all
		}
		freq = q.whole(sp.polish(freq, list), slices.Max(append(list, 1)))
	}
	for j := 1; j <= max(1, c.harmonics) && float64(j)*freq < 0.5; j++ {
		list = append(list, j)
	}
	slices.Sort(list)
	return freq, slices.Compact(list)
}

// partWith returns the part that freq stands for though it is not its own, or -1:
// a part with a line of its own, of which freq is a harmonic, or which turns in
// a/b beats, so that the beats see the same of it again after a.
func (q *search) partWith(sp *spectrum, freq float64) int {
	for i, f := range q.known {
		k := sp.bin(f)
		if k < 0 || sp.evidence[k] < aloneLine {
			continue
		}
		if j := math.Round(freq / f); j >= 2 && j <= deepest && q.same(freq, j*f) {
			return i
		}
		if b := q.parts[i].Beats.Denom(); b.IsInt64() && b.Int64() > 1 && q.same(freq, f/float64(b.Int64())) {
			return i
		}
	}
	return -1
}

// same reports whether two frequencies can't be told apart in one segment.
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

// comb returns the frequency of a whole number of beats that can't be told from freq, and its
// harmonics, if they are far more evident, all together, than those in list of freq: an
// escape wheel turns in one, and where its teeth are uneven at random, some harmonics are
// missing, and the higher ones as strong as the first, which alone does not tell where they
// lie.
func (q *search) comb(sp *spectrum, freq float64, list []int) (whole float64, all []int) {
	const (
		odds  = 14  // nats: a million to one
		there = 4   // nats: what noise has at one harmonic in 50
		turn  = 128 // beats: no escape wheel has more than 64 teeth (common practice)
	)
	if q.s.step != 1 || freq*turn < 1 {
		return 0, nil
	}
	most := float64(odds)
	for _, j := range list {
		most += sp.evidence[sp.bin(float64(j)*freq)] - 1
	}
	for p := math.Ceil(1 / (freq + 0.5/float64(q.s.length()))); q.same(1/p, freq); p++ {
		sum := 0.0
		var some []int
		for j := 1; float64(j) < fastest*p; j++ {
			e := sp.evidence[sp.bin(float64(j)/p)]
			if sum += e - 1; e > there && !q.own(float64(j)/p) {
				some = append(some, j)
			}
		}
		if sum > most && len(some) > 0 {
			whole, all, most = 1/p, some, sum
		}
	}
	return whole, all
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

// overtone reports whether freq is a harmonic of a wave found before: one of the
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

// grows reports whether a wave is only how one found before, and far stronger, changes along
// the run: beside one of its harmonics, by no more turns than a run-down has bends. Uneven
// teeth tell by more time, the slower the oscillator passes through rest.
func (q *search) grows(w *wave) bool {
	const near, weak = 16, 0.1 // turns in a segment; of its strongest harmonic
	return slices.ContainsFunc(q.found, func(v *wave) bool {
		j := max(1, math.Round(w.freq/v.freq))
		return math.Abs(w.freq-j*v.freq)*float64(q.s.length()) < near && w.greatest() < weak*v.greatest()
	})
}

// match returns the part whose frequency can't be told from freq, by its index,
// or -1: the power there is short of that of the line by no more than noise, or a
// frequency slightly pulled by the drift, would make it.
func (q *search) match(sp *spectrum, freq float64) int {
	const pulled, noisy = 0.02, 5 // of the power; times the noise
	if !q.own(freq) {
		return -1
	}
	at := q.lines(append([]float64{freq}, q.known...))
	least := (1-pulled)*at[0].power - noisy*sp.floor.at(freq*float64(sp.length))
	best := -1
	for i, l := range at[1:] {
		if q.same(freq, q.known[i]) && l.power > least && (best < 0 || l.power > at[best+1].power) {
			best = i
		}
	}
	return best
}
