package chart

import (
	"fmt"
	"math"
	"slices"

	"gonum.org/v1/plot"
)

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
		return "days", func(s float64) string { return plain(s/day, decimals(step/day)) }
	case step >= hour:
		return "h", func(s float64) string { return plain(s/hour, 0) }
	case most >= hour && step >= minute:
		return "h:min", func(s float64) string { return fmt.Sprintf("%d:%02d", whole(s)/3600, whole(s)/60%60) }
	case step >= minute:
		return "min", func(s float64) string { return plain(s/minute, 0) }
	case step < 1:
	case most >= hour:
		return "h:min:s", clock
	case most > 2*minute:
		return "min:s", func(s float64) string { return fmt.Sprintf("%d:%02d", whole(s)/60, whole(s)%60) }
	}
	return "s", func(s float64) string { return plain(s, decimals(step)) }
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

// upTo drops the ticks above a value.
func upTo(ticks []plot.Tick, v float64) []plot.Tick {
	return slices.DeleteFunc(ticks, func(t plot.Tick) bool { return t.Value > v })
}
