package chart

import (
	"math"
	"strconv"
	"strings"

	"rundown/analysis"
	"rundown/analysis/prose"
)

// valueStep is the smallest of 1, 2 and 5 times a power of ten that puts no
// more than most labels between lo and hi.
func valueStep(lo, hi float64, most int) step {
	size := math.Floor(math.Log10((hi-lo)/float64(most))) - 1
	for ; ; size++ {
		unit := math.Pow(10, size)
		for _, s := range []step{{1, 0.2}, {2, 0.5}, {5, 1}} {
			if ticksWithin(lo, hi, s.major*unit) <= most {
				return step{s.major * unit, s.minor * unit}
			}
		}
	}
}

// valueAxis is an axis with round values from lo to hi, no more than most of
// them labelled. Signed values carry a plus where they are positive.
func valueAxis(label string, r span, most int, signed bool) Axis {
	lo, hi := r.lo, r.hi
	s := valueStep(lo, hi, most)
	write := plain
	if signed {
		write = plus
	}
	places := decimals(s.major)
	return Axis{Label: label, Low: lo, High: hi, Signed: signed, Ticks: spread(lo, hi, s, func(v float64) string { return write(v, places) })}
}

// decimals is how many places after the point a step needs.
func decimals(step float64) int {
	return max(0, -int(math.Floor(math.Log10(step)+1e-9)))
}

// plain writes a value with the typographic minus, and zero without a sign.
func plain(v float64, places int) string {
	s := strconv.FormatFloat(v, 'f', places, 64)
	if strings.Trim(s, "-0.") == "" {
		return strings.TrimPrefix(s, "-")
	}
	return strings.Replace(s, "-", "−", 1)
}

// plus writes a value with its sign, and zero without.
func plus(v float64, places int) string {
	s := plain(v, places)
	if v > 0 && strings.Trim(s, "0.") != "" {
		return "+" + s
	}
	return s
}

// withError writes a signed figure and its standard error in a unit.
func withError(x, se float64, unit string) string {
	return prose.SignedWithError(analysis.Number(x), analysis.Number(se), unit)
}

// count writes a number of things: "1 window", "3 windows".
func count(n int, thing string) string { return prose.Count(n, thing, thing+"s") }

// lasting writes a length of time in seconds: "3 h 40 min".
func lasting(s float64) string { return prose.Span(analysis.Number(s)) }
