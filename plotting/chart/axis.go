package chart

import (
	"fmt"
	"math"
	"slices"

	"gonum.org/v1/plot"

	"rundown/analysis"
	"rundown/analysis/prose"
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

// valueStep is the smallest of 1, 2 and 5 times a power of ten that puts no
// more than most labels between lo and hi, or the one before it where that would leave
// fewer than two, which tell no scale.
func valueStep(lo, hi float64, most int) step {
	var finer step
	for size := math.Floor(math.Log10((hi-lo)/float64(most))) - 1; ; size++ {
		unit := math.Pow(10, size)
		for _, s := range []step{{1, 0.2}, {2, 0.5}, {5, 1}} {
			s = step{s.major * unit, s.minor * unit}
			if n := ticksWithin(lo, hi, s.major); n < 2 {
				return finer
			} else if n <= most {
				return s
			}
			finer = s
		}
	}
}

// valueAxis is an axis with round values from lo to hi, no more than most of
// them labelled. Signed values carry a plus where they are positive.
func valueAxis(label string, r span, most int, signed bool) Axis {
	lo, hi := r.lo, r.hi
	s := valueStep(lo, hi, most)
	write := prose.Unsigned
	if signed {
		write = prose.Signed
	}
	places := decimals(s.major)
	return Axis{Label: label, Low: lo, High: hi, Signed: signed, Ticks: spread(lo, hi, s, func(v float64) string { return write(v, places) })}
}

// decimals is how many places after the point a step needs.
func decimals(step float64) int {
	return max(0, -int(math.Floor(math.Log10(step)+1e-9)))
}

// withError writes a signed figure and its standard error in a unit.
func withError(x, se float64, unit string) string {
	return prose.SignedWithError(analysis.Number(x), analysis.Number(se), unit)
}

// count writes a number of things: "1 window", "3 windows".
func count(n int, thing string) string { return prose.Count(n, thing, thing+"s") }

// lasting writes a length of time in seconds: "3 h 40 min".
func lasting(s float64) string { return prose.Span(analysis.Number(s)) }

// Lengths of time, in seconds.
const (
	minute = 60.0
	hour   = 60 * minute
	day    = 24 * hour
)

// step is a distance between labelled ticks, and between the ones without.
type step struct{ major, minor float64 }

// elapsedSteps are the distances that divide seconds, minutes, hours and days
// as people do.
var elapsedSteps = []step{
	{1, 0.2}, {2, 0.5}, {5, 1}, {10, 2}, {15, 5}, {30, 10},
	{minute, 15}, {2 * minute, 30}, {5 * minute, minute}, {10 * minute, 2 * minute},
	{15 * minute, 5 * minute}, {30 * minute, 10 * minute},
	{hour, 15 * minute}, {2 * hour, 30 * minute}, {3 * hour, hour}, {6 * hour, hour}, {12 * hour, 3 * hour},
	{day, 6 * hour}, {2 * day, 12 * hour},
}

// elapsedStep is the smallest distance that puts no more than most labels
// between lo and hi seconds.
func elapsedStep(lo, hi float64, most int) step {
	if hi-lo < float64(most)/2 {
		return valueStep(lo, hi, most)
	}
	for _, s := range elapsedSteps {
		if ticksWithin(lo, hi, s.major) <= most {
			return s
		}
	}
	days := valueStep(lo/day, hi/day, most)
	return step{days.major * day, days.minor * day}
}

// elapsedAxis is an axis of elapsed time from lo to hi seconds, in the unit
// that suits it, with no more than most labels.
func elapsedAxis(r span, most int) Axis {
	lo, hi := r.lo, r.hi
	s := elapsedStep(lo, hi, most)
	unit, label := elapsedUnit(s.major, math.Max(math.Abs(lo), math.Abs(hi)))
	return Axis{Label: "elapsed time (" + unit + ")", Kind: Elapsed, Low: lo, High: hi, Ticks: spread(lo, hi, s, label)}
}

// elapsedUnit chooses how times up to most seconds, a step apart, are written.
func elapsedUnit(step, most float64) (unit string, label func(s float64) string) {
	whole := func(s float64) int { return int(math.Round(s)) }
	switch {
	case step >= day:
		return "days", func(s float64) string { return prose.Unsigned(s/day, decimals(step/day)) }
	case step >= hour:
		return "h", func(s float64) string { return prose.Unsigned(s/hour, 0) }
	case most >= hour && step >= minute:
		return "h:min", func(s float64) string { return fmt.Sprintf("%d:%02d", whole(s)/3600, whole(s)/60%60) }
	case step >= minute:
		return "min", func(s float64) string { return prose.Unsigned(s/minute, 0) }
	case step < 1:
	case most >= hour:
		return "h:min:s", clock
	case most > 2*minute:
		return "min:s", func(s float64) string { return fmt.Sprintf("%d:%02d", whole(s)/60, whole(s)%60) }
	}
	return "s", func(s float64) string { return prose.Unsigned(s, decimals(step)) }
}

// clock writes a moment of a run as hours, minutes and seconds: "3:12:05".
func clock(s float64) string {
	n := int64(math.Round(s))
	return fmt.Sprintf("%d:%02d:%02d", n/3600, n/60%60, n%60)
}

// spread sets ticks at the multiples of a step within lo to hi.
func spread(lo, hi float64, s step, label func(float64) string) []plot.Tick {
	var ticks []plot.Tick
	every := int(math.Round(s.major / s.minor))
	first := int(math.Ceil(lo/s.minor - 1e-9))
	last := int(math.Floor(hi/s.minor + 1e-9))
	for i := first; i <= last; i++ {
		t := plot.Tick{Value: float64(i) * s.minor}
		if i%every == 0 {
			t.Label = label(t.Value)
		}
		ticks = append(ticks, t)
	}
	return ticks
}

// ticksWithin is how many multiples of a step lie within lo to hi.
func ticksWithin(lo, hi, step float64) int {
	return int(math.Floor(hi/step+1e-9)-math.Ceil(lo/step-1e-9)) + 1
}
