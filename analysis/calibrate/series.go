package calibrate

import (
	"math"
	"slices"

	"rundown/dsp/stats"
)

// Mark is an instant of the reference.
type Mark struct {
	Frame   float64 // where it lies in the recording, frames
	Seconds float64 // time by the reference since its first instant
	// Fresh tells that marks from here on are displaced against those before
	// by an unknown time, because samples or periods were lost in between.
	Fresh bool
}

// mark is a Mark, or the mean of several that follow each other.
type mark struct {
	t     float64 // recorder's time: frames over the nominal sample rate, s
	x     float64 // t less the time by the reference, s
	n     float64 // marks averaged
	fresh bool
}

// merged returns the mean of two marks that follow each other.
func (m mark) merged(o mark) mark {
	n := m.n + o.n
	return mark{t: (m.t*m.n + o.t*o.n) / n, x: (m.x*m.n + o.x*o.n) / n, n: n, fresh: m.fresh}
}

// Series is the course of a reference through a recording. It holds no more
// than 131 072 marks: of a longer one it keeps the means of neighbours.
type Series struct {
	Hz         float64 // frequency of the reference
	SampleRate float64 // nominal, Hz
	Tone       bool    // a tone, of which each mark is the mean over a second
	Frames     int64   // of the recording
	Heard      int64   // ticks, pulses, or seconds of tone
	Expected   int64   // of them in the whole recording

	marks []mark
	per   float64 // marks averaged in one
}

const mostMarks = 1 << 17

// add appends a mark.
func (s *Series) add(m Mark) {
	s.Heard++
	t := m.Frame / s.SampleRate
	next := mark{t: t, x: t - m.Seconds, n: 1, fresh: m.Fresh || len(s.marks) == 0}
	if last := len(s.marks) - 1; last >= 0 && !next.fresh && s.marks[last].n < s.per {
		s.marks[last] = s.marks[last].merged(next)
		return
	}
	if len(s.marks) == mostMarks {
		s.per = 2 * max(s.per, 1)
		s.marks = merge(s.marks[:0], s.marks, s.per)
	}
	s.marks = append(s.marks, next)
}

// merge appends to dst the means of up to n marks each of those in marks. dst
// may be marks[:0].
func merge(dst, marks []mark, n float64) []mark {
	for _, m := range marks {
		if last := len(dst) - 1; last >= 0 && !m.fresh && dst[last].n+m.n <= n {
			dst[last] = dst[last].merged(m)
			continue
		}
		dst = append(dst, m)
	}
	return dst
}

// Span is a stretch of the recording.
type Span struct{ Start, End float64 } // seconds of the recorder's time

// Lost returns the stretches without a reference that are longer than both ten
// seconds and ten of its periods.
func (s *Series) Lost() []Span {
	longest := max(10, 10*s.period())
	var out []Span
	last := 0.0
	check := func(t float64) {
		if t-last > longest {
			out = append(out, Span{last, t})
		}
		last = t
	}
	for _, m := range s.marks {
		check(m.t)
	}
	check(float64(s.Frames) / s.SampleRate)
	return out
}

// period is the time from one mark to the next, s.
func (s *Series) period() float64 {
	if s.Tone {
		return toneSpan
	}
	return 1 / s.Hz
}

// clean returns the marks without those that lie far from what the median of
// their neighbours says, and the standard deviation of single marks about it,
// taken robustly; s.
func (s *Series) clean() ([]mark, float64) {
	const half, far = 10, 6
	slope := s.slope()
	off := make([]float64, len(s.marks))
	var around, sizes []float64
	for i := range s.marks {
		around = around[:0]
		lo, hi := i, i
		for lo > 0 && i-lo < half && !s.marks[lo].fresh {
			lo--
		}
		for hi+1 < len(s.marks) && hi-i < half && !s.marks[hi+1].fresh {
			hi++
		}
		// The same number on both sides, so that a drift does no harm.
		n := min(i-lo, hi-i)
		if n < 2 {
			n = half
		}
		for k := max(lo, i-n); k <= min(hi, i+n); k++ {
			around = append(around, s.marks[k].x-slope*s.marks[k].t)
		}
		slices.Sort(around)
		off[i] = s.marks[i].x - slope*s.marks[i].t - around[len(around)/2]
		sizes = append(sizes, math.Abs(off[i])*math.Sqrt(s.marks[i].n))
	}
	slices.Sort(sizes)
	sigma := stats.PerMedian * median(sizes)
	var kept []mark
	fresh := false
	for i, m := range s.marks {
		m.fresh = m.fresh || fresh
		if math.Abs(off[i])*math.Sqrt(m.n) > far*sigma+1e-12 {
			fresh = m.fresh
			continue
		}
		fresh = false
		kept = append(kept, m)
	}
	return kept, sigma
}

// Scatter is the standard deviation of single marks about a smooth course, s.
func (s *Series) Scatter() float64 {
	_, sigma := s.clean()
	return sigma
}

// slope is the median slope over stretches of the marks, robust and rough.
func (s *Series) slope() float64 {
	apart := min(64, (len(s.marks)+1)/2)
	run := 0
	var slopes []float64
	for i := range s.marks {
		if run++; s.marks[i].fresh {
			run = 1
		}
		if run > apart {
			a, b := s.marks[i-apart], s.marks[i]
			slopes = append(slopes, (b.x-a.x)/(b.t-a.t))
		}
	}
	slices.Sort(slopes)
	return median(slopes)
}

// median returns the middle of sorted values, 0 of none.
func median(sorted []float64) float64 {
	if len(sorted) == 0 {
		return 0
	}
	return sorted[len(sorted)/2]
}
