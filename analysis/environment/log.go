package environment

import (
	"fmt"
	"math"
	"slices"
	"sort"
	"time"
)

// order sees to it that times ascend. A log that begins with its latest time is
// turned round.
func (l *Log) order(t *table) error {
	lines := slices.Clone(t.lines)
	if n := len(l.Times); l.Times[0].After(l.Times[n-1]) {
		slices.Reverse(l.Times)
		slices.Reverse(lines)
		for i := range l.Columns {
			slices.Reverse(l.Columns[i].Values)
		}
	}
	for i := 1; i < len(l.Times); i++ {
		if l.Times[i].Before(l.Times[i-1]) {
			return fmt.Errorf("line %d: its time is earlier than that of line %d; where the clocks were put back, export with a zone, or cut the file there", lines[i], lines[i-1])
		}
	}
	if !l.Times[len(l.Times)-1].After(l.Times[0]) {
		return fmt.Errorf("line %d: all times are one and the same", lines[0])
	}
	return nil
}

// At returns a column at times in seconds since the first sample of a run that
// began at start, NaN where the log says nothing: before its first reading, after
// its last one, and where readings are missing. start is not asked where the log
// counts elapsed time.
func (l *Log) At(column int, start Start, seconds []float64) []float64 {
	times := l.seconds(start)
	values := l.Columns[column].Values
	gap := 5 * usual(times)
	out := make([]float64, len(seconds))
	for i, s := range seconds {
		out[i] = interpolate(times, values, s, gap)
	}
	return out
}

// first stands for the first sample of a run in the times of a log that counts
// from it.
var first = time.Unix(0, 0).UTC()

// Start is when a recording began.
type Start struct {
	At    time.Time
	Zoned bool // At says its zone; else it is the reading of a clock on the wall, given as if of UTC
}

// seconds are the times of the log since the first sample of a run. Where one of
// the two says no zone, the reading on the other's wall is taken.
func (l *Log) seconds(start Start) []float64 {
	out := make([]float64, len(l.Times))
	for i, t := range l.Times {
		switch {
		case l.Elapsed:
			out[i] = t.Sub(first).Seconds()
		case l.Zoned == start.Zoned:
			out[i] = t.Sub(start.At).Seconds()
		default:
			out[i] = wall(t).Sub(wall(start.At)).Seconds()
		}
	}
	return out
}

// wall is the reading of a clock on the wall as if it were of UTC.
func wall(t time.Time) time.Time {
	_, offset := t.Zone()
	return t.Add(time.Duration(offset) * time.Second).UTC()
}

// usual is the usual time between readings.
func usual(times []float64) float64 {
	steps := make([]float64, 0, len(times))
	for i := 1; i < len(times); i++ {
		steps = append(steps, times[i]-times[i-1])
	}
	slices.Sort(steps)
	return max(steps[len(steps)/2], 1)
}

// interpolate returns the value at a time from those at ascending times, NaN outside of them and in gaps.
func interpolate(times, values []float64, at, gap float64) float64 {
	k := sort.SearchFloat64s(times, at)
	if k < len(times) && times[k] == at {
		return values[k]
	}
	if k == 0 || k == len(times) || times[k]-times[k-1] > gap {
		return math.NaN()
	}
	share := (at - times[k-1]) / (times[k] - times[k-1])
	return values[k-1] + share*(values[k]-values[k-1])
}
