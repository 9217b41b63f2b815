package chart

import (
	"math"
	"slices"
)

// span is a range of values.
type span struct{ lo, hi float64 }

func (s span) width() float64           { return s.hi - s.lo }
func (s span) contains(v float64) bool  { return v >= s.lo && v <= s.hi }
func (s span) clamp(v float64) float64  { return min(max(v, s.lo), s.hi) }
func (s span) including(v float64) span { return span{min(s.lo, v), max(s.hi, v)} }

// robustSpan is the range of an axis for values with standard errors, both
// finite: the middle nine tenths of the values and, on either side, whatever
// lies within as much again, so that the bulk of a curve takes up a third of
// the height at the least, however far a few values stray. Of a handful of
// values the middle half is taken, and on either side three times as much (J. W.
// Tukey's outer fences, "Exploratory Data Analysis", 1977). The range is no
// narrower than least, and has a margin of a typical standard error and a
// twentieth.
func robustSpan(xs, ses []float64, least float64) span {
	if len(xs) == 0 {
		return span{-least / 2, least / 2}
	}
	sorted := slices.Sorted(slices.Values(xs))
	tail := min(0.25, max(0.05, 1.5/float64(len(xs))))
	lo, hi := quantile(sorted, tail), quantile(sorted, 1-tail)
	error := quantile(slices.Sorted(slices.Values(ses)), 0.5)
	reach := max((hi-lo)*(0.5+10*tail), 6*error, least/3) // once to three times the middle
	first, _ := slices.BinarySearch(sorted, lo-reach)
	after, _ := slices.BinarySearch(sorted, math.Nextafter(hi+reach, math.Inf(1)))
	s := span{sorted[first], sorted[after-1]}
	if short := least - s.width(); short > 0 {
		s.lo, s.hi = s.lo-short/2, s.hi+short/2
	}
	margin := error + s.width()/20
	return span{s.lo - margin, s.hi + margin}
}

// quantile interpolates the q-quantile, 0 ≤ q ≤ 1, of sorted values.
func quantile(sorted []float64, q float64) float64 {
	at := q * float64(len(sorted)-1)
	i := min(int(at), len(sorted)-1)
	j := min(i+1, len(sorted)-1)
	return sorted[i] + (at-float64(i))*(sorted[j]-sorted[i])
}

// finite reports whether v is a number that can be drawn.
func finite(v float64) bool { return !math.IsNaN(v) && !math.IsInf(v, 0) }
