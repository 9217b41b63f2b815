// Package live follows a recording while it is made, by the same tracker that
// analyses it, and says how it goes: the count, the rate so far with its error,
// and the share of beats heard. The figures are those that an analysis of the
// recording so far would give, but for two things that are told only at its end:
// times stay at the mark, since mid-lift is not known yet, and what the mark may
// have moved is not in the error.
package live

import (
	"cmp"
	"context"
	"math"
	"slices"
	"sync"

	"rundown/analysis/beat"
	"rundown/analysis/rate"
	"rundown/analysis/sequence"
	"rundown/dsp/wavio"
)

// Options are the settings of a Listener.
type Options struct {
	Nominal float64 // beats an hour; 0 where they are not known
	Channel int     // that carries the movement, from 1; 0 takes the clearest
	Clock   func(frame float64) float64
}

// Figures are what is known of a recording so far. Figures that could not be had
// are NaN.
type Figures struct {
	Found    bool       // a beat was found
	Analysed int64      // frames
	Counted  int64      // beats, heard or not
	Heard    int64      // of them
	Last     float64    // true time of the last beat heard, s
	PerHour  rate.Value // beats an hour, as measured
	Rate     rate.Value // s/day, against the nominal count or the nearest customary one
}

// window is the width of an averaging window, s, as analyse has it by default.
const window = 60

// The figures are worked out anew when the run has grown by so much: a part of
// it, and seconds. That keeps the cost of a long run a small part of it.
const (
	growth     = 0.02
	leastSpell = 10
)

// Listener follows one recording. Its figures may be asked from any goroutine.
type Listener struct {
	opt    Options
	mu     sync.Mutex
	now    Figures
	beats  []beat.Beat
	events []beat.Event
	due    float64 // time of the beat from which on the figures are worked out again, s
}

// NewListener returns one that has heard nothing.
func NewListener(opt Options) *Listener {
	nan := rate.Value{X: math.NaN(), SE: math.NaN()}
	return &Listener{opt: opt, now: Figures{Last: math.NaN(), PerHour: nan, Rate: nan}}
}

// Listen follows src to its end, or until the context ends.
func (l *Listener) Listen(ctx context.Context, src wavio.Source) error {
	if l.opt.Clock == nil {
		perSecond := float64(src.Format().SampleRate)
		l.opt.Clock = func(frame float64) float64 { return frame / perSecond }
	}
	progress := func(frames int64) { l.set(func(f *Figures) { f.Analysed = frames }) }
	_, err := beat.Follow(ctx, src, beat.Options{Prompt: true, Nominal: l.opt.Nominal, Channel: l.opt.Channel, Clock: l.opt.Clock, Progress: progress}, l.batch)
	if err == nil && len(l.beats) > 0 {
		l.figure()
	}
	return err
}

// Figures returns what is known so far.
func (l *Listener) Figures() Figures {
	l.mu.Lock()
	defer l.mu.Unlock()
	return l.now
}

func (l *Listener) set(change func(*Figures)) {
	l.mu.Lock()
	defer l.mu.Unlock()
	change(&l.now)
}

// batch takes a stretch of beats and events.
func (l *Listener) batch(b *beat.Batch) error {
	l.beats = append(l.beats, b.Beats...)
	l.events = append(l.events, b.Events...)
	l.set(func(f *Figures) {
		for _, x := range b.Beats {
			f.Found = true
			f.Counted++
			if x.Heard {
				f.Heard++
				f.Last = x.Time
			}
		}
	})
	if n := len(l.beats); n > 0 && l.beats[n-1].Time >= l.due {
		l.figure()
		at := l.beats[n-1].Time
		l.due = at + max(leastSpell, growth*(at-l.beats[0].Time))
	}
	return nil
}

// figure works out the rate so far.
func (l *Listener) figure() {
	run := measure(l.beats, l.events, l.opt.Nominal)
	l.set(func(f *Figures) {
		f.PerHour = rate.Value{X: 7200 / run.Period.X, SE: 7200 * run.Period.SE / (run.Period.X * run.Period.X)}
		f.Rate = run.Rate
	})
}

// measure measures beats, and the events among them, whose marks are taken for
// the passage through rest.
func measure(beats []beat.Beat, events []beat.Event, nominal float64) rate.Run {
	events = append(slices.Clone(events), shifts(beats, events)...)
	slices.SortStableFunc(events, func(a, b beat.Event) int { return cmp.Compare(a.Start, b.Start) })
	a := rate.NewAccumulator(window, nil)
	ws := a.Append(nil, &beat.Batch{Beats: beats, Events: events})
	ws = a.Flush(ws, beats[len(beats)-1].Time)
	return a.Finish(ws, rate.Settings{BeatsPerHour: nominal})
}

// shifts tells what shifted the beats for good.
func shifts(beats []beat.Beat, events []beat.Event) (out []beat.Event) {
	fresh := map[int64]bool{}
	for _, ev := range events {
		switch ev.Kind {
		case beat.Stop:
			fresh[ev.Beat+1] = true
		case beat.Gap:
			fresh[ev.Beat] = true
		}
	}
	seq := make([]sequence.Beat, len(beats))
	renew := false
	for i, b := range beats {
		renew = renew || fresh[b.Index]
		seq[i] = sequence.Beat{Index: b.Index, Time: b.Time, SE: b.SE, Side: b.Side, Heard: b.Heard, Fresh: renew && b.Heard}
		renew = renew && !b.Heard
	}
	for _, s := range sequence.Tell(seq).Steps {
		kind := beat.Late
		if s.Shift < 0 {
			kind = beat.Early
		}
		k, _ := slices.BinarySearchFunc(beats, s.Beat, func(b beat.Beat, at int64) int { return cmp.Compare(b.Index, at) })
		t := beats[k].Time
		out = append(out, beat.Event{Kind: kind, Beat: s.Beat, Start: t - math.Max(s.Shift, 0), End: t + math.Max(-s.Shift, 0), Shift: s.Shift})
	}
	return out
}
