// Package analysis takes a recording to the figures of a run. It wires the
// stages, each of which keeps its own state and knows nothing of the next:
//
//  1. beat.Follow reads the recording and finds the beats and events;
//  2. rate.Accumulator cuts them into windows and fits each;
//  3. fault.Collector looks for what comes round again;
//  4. rows of the tables leave through the Sink when they are final;
//  5. at the end the figures of the run become the Summary.
//
// What the tracker found is kept to the end, where the lift and the shifts that are
// for good are told from all of it (story): some 60 bytes a beat, and the stacks of
// the beats' sound, which are bounded.
package analysis

import (
	"context"
	"fmt"
	"slices"

	"rundown/analysis/beat"
	"rundown/analysis/contacts"
	"rundown/analysis/fault"
	"rundown/analysis/rate"
	"rundown/dsp/wavio"
)

// Sink takes the tables of a run while it is analysed, in order of time. What
// it is given is its own only until it returns. Its errors end the run.
type Sink interface {
	Beats([]Row) error
	Events([]beat.Event) error
}

// Result is all that is known at the end of a run.
type Result struct {
	Summary
	Windows       []rate.Window // from 0 to the end of the recording, without a hole
	AmplitudeKind rate.AmplitudeKind
	Band          *rate.Band // nil where there is no stable band
	Faults        *fault.Collector
	Found         []fault.Recurrence  // strongest first
	Clips         []Clip              // in order of time
	Sounds        []contacts.Portrait // of a beat, in order of time
	Doubt         string              // why the lift could not be told, as contacts.Reading has it
	LastHeard     int64               // number of the last beat heard, -1 without any
	ClockErrors   []float64           // what the recorder's clock adds to the rate of each window, standard error in s/day, NaN where not known
	Stabilities   []rate.Stability    // within the stable band, or over the run where there is none
	Wander        *rate.Wander        // over a day, by Stabilities; nil where it cannot be said
	ClockFloor    []ClockFloor        // at the averaging times of Stabilities
}

// Run analyses a recording. The error is the source's, the sink's, a WindowError,
// or that of the context: where that ends, Run returns soon, though the source and the sink
// may still be in use for a moment. That there is no beat in the recording is no
// error: the summary says it.
func Run(ctx context.Context, src wavio.Source, opt Options, sink Sink) (*Result, error) {
	return Promptly(ctx, func() (*Result, error) { return run(ctx, src, opt, sink, beat.Follow) })
}

// follower finds the beats of a recording, as beat.Follow does.
type follower func(context.Context, wavio.Source, beat.Options, func(*beat.Batch) error) (beat.Report, error)

func run(ctx context.Context, src wavio.Source, opt Options, sink Sink, follow follower) (*Result, error) {
	format := src.Format()
	clock := opt.clock(format.SampleRate)
	p := newPipeline(opt.Window, sink)
	keeper := clipKeeper{limit: opt.Clips}
	listen := beat.Options{Channel: opt.Channel, Clock: clock, Progress: opt.Progress, Nominal: opt.nominal(), Found: opt.checkWindow}
	if err := opt.checkWindow(7200 / listen.Nominal); err != nil {
		return nil, err
	}
	if opt.Clips > 0 {
		listen.Clip = func(ev beat.Event, samples []float32, start float64) {
			keeper.offer(ev, samples, start, float64(format.SampleRate))
		}
	}
	var told story
	report, err := follow(ctx, src, listen, told.batch)
	if err != nil {
		return nil, err
	}
	told.tell(opt, report, float64(format.SampleRate), clock)
	p.rate.Teeth(told.turns)
	p.rate.Expect(told.beatError())
	if err := told.pass(p.batch); err != nil {
		return nil, err
	}
	duration := clock(float64(report.Frames))
	if err := p.flush(duration); err != nil {
		return nil, err
	}
	r := &Result{Windows: p.windows, Faults: &p.faults, Clips: keeper.inOrder(), LastHeard: -1}
	r.Summary = newSummary(opt, format, report, duration)
	if opt.Channel == 0 && format.Channels > beat.MostChannels {
		opt.Problems = append(opt.Problems, fmt.Sprintf("The beat was looked for in the first %d of %d channels; name another with --channel.", beat.MostChannels, format.Channels))
	}
	r.Recording.Problems = append([]string{}, slices.Concat(src.Problems(), opt.Problems, report.Problems)...)
	if len(report.Zeros) > 0 {
		r.Recording.Problems = append(r.Recording.Problems, zerosProblem(report.Zeros, duration))
	}
	r.Recording.Problems = append(r.Recording.Problems, told.changes(report)...)
	for _, kind := range beat.Kinds {
		r.Events[kind] = p.events[kind]
	}
	if report.Found {
		r.measure(opt, p, &told, report.CountOdds)
	}
	r.clock(opt)
	return r, nil
}

// Row is a beat, with what the fit of its window says about it.
type Row struct {
	beat.Beat
	// Interval is the time since the beat before, seconds; NaN for the first.
	Interval float64
	// Residual is by how much the beat came after its place on the line that
	// fits its window, seconds; NaN where the window has none, or the beat was
	// not heard.
	Residual float64
}

// Timeline returns the time of a beat in seconds, to the nearest beat or so, from
// the number of beats in each of some windows.
func Timeline(windows []rate.Window) func(beat int64) float64 {
	passed := make([]int64, len(windows)) // beats before the end of each window
	total := int64(0)
	for i, w := range windows {
		total += int64(w.Beats)
		passed[i] = total
	}
	return func(beat int64) float64 {
		i, _ := slices.BinarySearch(passed, beat+1)
		if i == len(windows) {
			return windows[i-1].End
		}
		w := windows[i]
		part := 1 - float64(passed[i]-beat)/float64(w.Beats)
		return w.Start + part*(w.End-w.Start)
	}
}
