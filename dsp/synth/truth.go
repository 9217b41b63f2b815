package synth

import (
	"math"
	"sort"
)

// Truth is all that can be known of a recording.
type Truth struct {
	Interval float64 // nominal beat interval, seconds
	Duration float64 // for which the recorder ran, true seconds
	Beats    []Beat
	Events   []Event // in order of start
}

// Truth runs the movement without sound.
func (r Recording) Truth() *Truth {
	r = r.withDefaults()
	w := newWitness(r)
	t := &Truth{Interval: r.Movement.Interval(), Duration: r.Duration}
	for b, ok := w.next(); ok; b, ok = w.next() {
		t.Beats = append(t.Beats, b)
	}
	t.Events = append(w.run.events, w.events...)
	sort.SliceStable(t.Events, func(i, j int) bool { return t.Events[i].Start < t.Events[j].Start })
	for i := range t.Events {
		e := &t.Events[i]
		if e.Beat < 0 {
			e.Beat = int64(sort.Search(len(t.Beats), func(i int) bool { return t.Beats[i].Time > e.Start })) - 1
		}
	}
	return t
}

// Span returns the half-open range of beats that fall into a stretch of the
// recording, seconds on its own axis (Beat.Elapsed).
func (t *Truth) Span(start, end float64) (first, last int) {
	at := func(x float64) int {
		return sort.Search(len(t.Beats), func(i int) bool { return t.Beats[i].Elapsed >= x })
	}
	return at(start), at(end)
}

// Rate returns the true running rate in a stretch of the recording in seconds a
// day: that of the straight line that lies closest to the oscillator's own
// passages through rest, free of jitter, beat error and events. It is NaN where
// fewer than two beats fall into it.
func (t *Truth) Rate(start, end float64) float64 {
	first, last := t.Span(start, end)
	beats := t.Beats[first:last]
	if len(beats) < 2 {
		return math.NaN()
	}
	// The closest line's slope is the mean of the slopes from the middle beat,
	// weighted with the squared distance from it.
	middle := float64(len(beats)-1) / 2
	var sum, weight float64
	for i, b := range beats {
		d := float64(i) - middle
		sum += d * (b.Steady - beats[0].Steady)
		weight += d * d
	}
	return 86400 * (t.Interval/(sum/weight) - 1)
}
