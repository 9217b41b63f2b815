package synth

import (
	"math"
	"math/rand/v2"
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
	w := newGroundTruth(r)
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

// Rates returns the true rate of each whole window of the recording, windows of
// a width in seconds that follow each other from 0.
func (t *Truth) Rates(width float64) []float64 {
	var rates []float64
	for start := 0.0; start+width <= t.Duration; start += width {
		rates = append(rates, t.Rate(start, start+width))
	}
	return rates
}

// StableBand returns the first and the last (excluded) window of the longest
// stretch of Rates(width) that spans no more than tolerance seconds a day, and
// holds no stop and no window in which fewer than half the beats sounded.
func (t *Truth) StableBand(width, tolerance float64) (first, last int) {
	rates := t.Rates(width)
	for i := range rates {
		low, high := math.Inf(1), math.Inf(-1)
		for j := i; j < len(rates) && t.runs(float64(j)*width, width); j++ {
			low, high = min(low, rates[j]), max(high, rates[j])
			if high-low > tolerance {
				break
			}
			if j+1-i > last-first {
				first, last = i, j+1
			}
		}
	}
	return first, last
}

// runs reports whether the movement runs through a window without a stop, and at
// least half of its beats sound.
func (t *Truth) runs(start, width float64) bool {
	first, last := t.Span(start, start+width)
	sounded := 0
	for _, b := range t.Beats[first:last] {
		if b.Audible && !b.Covered {
			sounded++
		}
	}
	if last-first < 2 || 2*sounded < last-first {
		return false
	}
	// True time and the recording's axis differ by what the recorder lost.
	from := t.Beats[first].Time - (t.Beats[first].Elapsed - start)
	for _, e := range t.Events {
		if e.Kind == "stop" && e.Start < from+width && e.End > from {
			return false
		}
	}
	return true
}

// Lost returns the seconds that late, early and stop events cost while the
// movement ran.
func (t *Truth) Lost() (lost float64) {
	for _, e := range t.Events {
		switch e.Kind {
		case "late", "early":
			lost += e.Shift
		case "stop":
			if e.End < t.Duration {
				lost += e.Shift
			}
		}
	}
	return lost
}

// ringing is for how many seconds after its last contact a beat is heard.
const ringing = 3e-3

// groundTruth sees the movement run and knows where each beat comes to lie in the
// recording.
type groundTruth struct {
	rec      Recording
	run      *run
	loudness *rand.Rand
	passings []passing
	lapses   []lapse
	events   []Event // of the room and the recorder
}

func newGroundTruth(r Recording) *groundTruth {
	w := &groundTruth{
		rec:      r,
		run:      newRun(r.Movement, r.Seed, r.Duration),
		loudness: stream(r.Seed, loudnessStream),
		passings: r.Room.passings(r.Seed, r.Duration),
		lapses:   r.Recorder.lapses(r.Seed, r.Duration),
	}
	w.run.sides = r.Sound.sides()
	for _, p := range w.passings {
		w.events = append(w.events, p.event())
	}
	for _, l := range w.lapses {
		w.events = append(w.events, l.event())
	}
	return w
}

// next returns the next beat; false when the movement has stopped for good, or
// the recording is over.
func (w *groundTruth) next() (Beat, bool) {
	b, ok := w.run.next()
	if !ok {
		return b, false
	}
	b.Level += sigma(w.rec.Sound.GainScatter) * w.loudness.NormFloat64()
	for len(w.passings) > 0 && w.passings[0].end < b.Time-1 {
		w.passings = w.passings[1:]
	}
	for _, p := range w.passings {
		if p.start > b.Time+1 {
			break
		}
		b.Covered = b.Covered || p.covers(b.Time-b.Lift/2, b.Time+b.Lift/2+ringing, b.Level)
	}
	w.locate(&b)
	return b, true
}

// locate finds the beat's place in the recording.
func (w *groundTruth) locate(b *Beat) {
	clock := w.rec.Recorder
	frame := clock.frame(b.Time)
	lost := 0.0
	b.Elapsed = b.Time
	for _, l := range w.lapses {
		if l.start > b.Time {
			break
		}
		inside := b.Time < l.end
		switch l.kind {
		case "cut":
			b.Covered = b.Covered || inside
			lost += min(float64(l.to), frame) - float64(l.from)
			b.Elapsed -= min(l.end, b.Time) - l.start
		case "zeros", "dead":
			b.Covered = b.Covered || inside
		}
	}
	b.Frame = math.Max(frame-lost, 0)
}
