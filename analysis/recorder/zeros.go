package recorder

import (
	"math"
	"slices"

	"rundown/dsp/wavio"
)

// Span is a stretch of a recording, in frames: its first, and the one after its
// last.
type Span struct{ From, To int64 }

// Zeros finds the stretches of a recording in which it holds exact zeros though the
// room around them is never silent for so long: the recorder wrote them in place of
// what it had lost. Where beats were made over silence, or a gate closes between
// them, zeros are what the room sounds like.
type Zeros struct {
	rate    float64
	block   int
	at      int64   // frames added
	open    int64   // where the zeros that are going on began; -1 where none are
	trail   int     // zeros that end what was added, fewer than a block
	longest []int32 // of the zeros that began in each second, frames; or skipped
	runs    []Span  // of leastZeros and more
	judged  int     // so many of runs are known for good to be no room's own
	x       []float32
}

const (
	leastZeros = 5e-3 // s: shorter ones take no beat away
	// Zeros are the room's own where in more than half of the seconds within around
	// of them others are alike times as long or longer, or as long as fastest: as
	// are those between the beats of the fastest movement, behind a gate.
	around  = 60 // s
	alike   = 1. / 8
	fastest = 30e-3 // s
)

// NewZeros returns one for a sample rate in hertz that is given sound in blocks of so
// many frames.
func NewZeros(rate float64, block int) *Zeros { return &Zeros{rate: rate, block: block, open: -1} }

// Add takes the next stretch of the recording. rough is how loud its blocks are at a
// glance, 0 in all that are silent; nil where that is not known.
func (z *Zeros) Add(s *wavio.Stored, rough []float32) {
	for from := 0; from < s.Len(); from += z.block {
		n := min(z.block, s.Len()-from)
		i := from / z.block
		if z.open < 0 && i < len(rough) && rough[i] > 0 {
			continue
		}
		lead, silent := z.leading(s, from, n)
		switch {
		case silent && z.open < 0:
			z.open = z.at + int64(from) - int64(z.before(s, from))
		case !silent && z.open >= 0:
			z.close(z.at + int64(from+lead))
		}
	}
	z.trail = 0
	if z.open < 0 {
		z.trail = z.trailing(s, s.Len())
	}
	began := z.at
	z.at += int64(s.Len())
	z.mark(Span{z.at, z.at}, 0)
	if z.open >= 0 {
		z.mark(Span{max(z.open, began-2*int64(z.rate)), z.at}, skipped)
	}
	z.judge(z.at - int64(around*z.rate))
}

// leading counts the zeros from a frame on among so many, and tells whether all are.
func (z *Zeros) leading(s *wavio.Stored, from, n int) (zeros int, all bool) {
	z.x = slices.Grow(z.x[:0], n)[:n]
	s.Samples(z.x, from)
	i := slices.IndexFunc(z.x, func(v float32) bool { return v != 0 })
	if i < 0 {
		return n, true
	}
	return i, false
}

// before counts the zeros right before a frame of s, as far as they are of less than
// a block.
func (z *Zeros) before(s *wavio.Stored, from int) int {
	if from == 0 {
		return z.trail
	}
	return z.trailing(s, from)
}

// trailing counts the zeros right before a frame of s within a block of it.
func (z *Zeros) trailing(s *wavio.Stored, to int) int {
	n := min(z.block, to)
	z.x = slices.Grow(z.x[:0], n)[:n]
	s.Samples(z.x, to-n)
	zeros := 0
	for zeros < n && z.x[n-1-zeros] == 0 {
		zeros++
	}
	return zeros
}

// close ends the zeros that are going on.
func (z *Zeros) close(to int64) {
	run := Span{z.open, to}
	z.mark(run, skipped)
	z.open = -1
	first := z.second(run.From)
	z.longest[first] = max(z.longest[first], length(run))
	if float64(to-run.From) >= leastZeros*z.rate {
		z.runs = append(z.runs, run)
	}
}

func (z *Zeros) second(frame int64) int { return int(float64(frame) / z.rate) }

func length(s Span) int32 { return int32(min(s.To-s.From, math.MaxInt32)) }

// skipped is longest in a second of which zeros tell nothing: one stretch of them
// fills it.
const skipped = -1

// mark sets longest in the seconds that a stretch fills.
func (z *Zeros) mark(s Span, as int32) {
	first, last := z.second(s.From), z.second(s.To)
	for len(z.longest) <= last {
		z.longest = append(z.longest, 0)
	}
	for i := first + 1; i < last; i++ {
		z.longest[i] = as
	}
}

// judge decides of stretches that end before a frame: what the room's own are is
// forgotten.
func (z *Zeros) judge(before int64) {
	kept := z.judged
	for _, r := range z.runs[z.judged:] {
		switch {
		case r.To > before:
			z.runs[kept] = r
			kept++
		case z.own(r):
			z.mark(r, length(r))
		default:
			z.runs[kept] = r
			kept++
			z.judged = kept
		}
	}
	z.runs = z.runs[:kept]
}

// own reports whether zeros are what the room sounds like about a stretch of them, as
// far as that was heard.
func (z *Zeros) own(s Span) bool {
	least := int32(min(alike*float64(length(s)), fastest*z.rate))
	quiet, all := 0, 0
	count := func(from, to int) {
		for i := max(from, 0); i < min(to, len(z.longest), z.second(z.at)); i++ {
			switch l := z.longest[i]; {
			case l >= least:
				quiet++
				all++
			case l != skipped:
				all++
			}
		}
	}
	first, last := z.second(s.From), z.second(s.To)
	count(first-around, first)
	count(last+1, last+1+around)
	return 2*quiet > all
}

// each calls do for the stretches known so far that end after a frame, the last of
// which may be going on, from the last to the first.
func (z *Zeros) each(after float64, do func(Span)) {
	if z.open >= 0 {
		if s := (Span{z.open, z.at}); float64(length(s)) >= leastZeros*z.rate && !z.own(s) {
			do(s)
		}
	}
	for i := len(z.runs) - 1; i >= 0 && float64(z.runs[i].To) > after; i-- {
		if i < z.judged || !z.own(z.runs[i]) {
			do(z.runs[i])
		}
	}
}

// Spans returns the stretches known so far, in order of time.
func (z *Zeros) Spans() []Span {
	var out []Span
	z.each(0, func(s Span) { out = append(out, s) })
	slices.Reverse(out)
	return out
}

// Among returns how many of the frames from one to another lie in such stretches.
func (z *Zeros) Among(from, to float64) float64 {
	sum := 0.0
	z.each(from, func(s Span) { sum += max(0, min(to, float64(s.To))-max(from, float64(s.From))) })
	return sum
}
