package fault

import (
	"math"
	"slices"
)

// search looks for regular unevenness in a series, one wave after the other.
type search struct {
	s      *series
	parts  []part
	known  []float64 // frequencies of the parts, cycles per value
	low    float64   // cycles per value: slower waves are not looked for
	high   float64   // faster ones neither
	found  []*wave   // already found, and taken out of what is looked at
	buf    []float64
	ft     *transformer
	closed []float64 // frequencies dealt with, cycles per value
}

// fastest is the highest frequency, in cycles per value, at which waves are
// looked for in a series with two sides. What is faster can't be told from a
// change of the difference between tick and tock.
const fastest = 0.49

// newSearch prepares a search for waves from low to high cycles per value,
// narrowed to what the series can show.
func newSearch(s *series, parts []part, low, high float64) *search {
	known := make([]float64, len(parts))
	for i, p := range parts {
		known[i] = float64(s.step) / p.period
	}
	margin := lowestTurns / float64(s.length())
	if s.sides == 2 {
		high = min(high, fastest)
	}
	return &search{
		s:     s,
		parts: parts,
		known: known,
		low:   max(low, margin),
		high:  min(high, 0.5-margin),
		buf:   make([]float64, s.length()),
		ft:    newTransformer(s.length()),
	}
}

// each calls f with every segment in order, less the waves found so far,
// detrended, its gaps filled, and tapered. x is f's until it returns.
func (q *search) each(f func(x []float64, t taper, from int)) {
	for k := range q.s.segments() {
		from, to := q.s.segment(k)
		x := q.buf[:to-from]
		q.s.read(x, from)
		for _, w := range q.found {
			for i := range x {
				x[i] -= w.at(from + i)
			}
		}
		flatten(x, nil, q.s.sides)
		fillGaps(x, 1)
		f(x, applyTaper(x), from)
	}
}

func (q *search) spectrum() *spectrum {
	sp := &spectrum{power: make([]float64, q.ft.size/2), size: q.ft.size, length: q.s.length(), doubled: q.s.doubled}
	q.each(func(x []float64, t taper, _ int) { q.ft.add(sp.power, x, t) })
	parts := q.s.segments()
	for k := range sp.power {
		sp.power[k] /= float64(parts)
	}
	sp.weigh(parts, q.low*float64(sp.length), q.high*float64(sp.length))
	for _, f := range q.closed {
		sp.close(f)
	}
	return sp
}

// lines measures the lines at the given frequencies, in cycles per value.
func (q *search) lines(freqs []float64) []line {
	sums := make([]lineSum, len(freqs))
	for i, f := range freqs {
		sums[i].freq = f
	}
	q.each(func(x []float64, t taper, from int) {
		for i := range sums {
			sums[i].add(x, t, from, q.s.n)
		}
	})
	out := make([]line, len(freqs))
	for i := range sums {
		out[i] = sums[i].line()
	}
	return out
}

// refine returns the frequency of greatest power near freq, which is right to
// half a turn in a segment.
func (q *search) refine(freq float64) float64 {
	turn := 1 / float64(q.s.length())
	for _, step := range []float64{turn / 6, turn / 40} {
		freq = q.peak(freq, step, func(l line) float64 { return l.power })
	}
	if q.s.segments() == 1 {
		return freq
	}
	// The phases of the segments, taken together, tell more than their powers.
	turn = 1 / float64(q.s.n)
	return q.peak(freq, turn/4, func(l line) float64 {
		a := l.amplitude()
		return real(a)*real(a) + imag(a)*imag(a)
	})
}

// peak returns where height has its top near freq: the vertex of the parabola
// through the highest of some points step apart and its neighbours.
func (q *search) peak(freq, step float64, height func(line) float64) float64 {
	const reach = 4
	freqs := make([]float64, 2*reach+1)
	for i := range freqs {
		freqs[i] = freq + float64(i-reach)*step
	}
	h := make([]float64, len(freqs))
	for i, l := range q.lines(freqs) {
		h[i] = height(l)
	}
	top := slices.Index(h, slices.Max(h))
	if top == 0 || top == len(h)-1 {
		return freqs[top]
	}
	a, b, c := h[top-1], h[top], h[top+1]
	return freqs[top] + step*(a-c)/(2*(a-2*b+c))
}

// take takes the wave, which has the given harmonics, out of what is looked at
// from now on.
func (q *search) take(w *wave, harmonics []int) {
	w.tabulate()
	q.found = append(q.found, w)
	for _, j := range harmonics {
		q.closed = append(q.closed, float64(j)*w.freq)
	}
}

// turnsOf is the number of whole turns that the series holds.
func (q *search) turnsOf(freq float64) int {
	return int(math.Floor(freq*float64(q.s.n) + 1e-9))
}
