package analysis

import (
	"math"

	"rundown/analysis/beat"
	"rundown/analysis/fault"
	"rundown/analysis/rate"
)

// pipeline passes batches of beats on to the stages that measure them.
type pipeline struct {
	sink    Sink
	rate    *rate.Accumulator
	faults  fault.Collector
	windows []rate.Window
	events  map[beat.Kind]int
	ending  endingFinder

	rows      []Row
	last      float64 // time of the last row, seconds; NaN before the first
	first     float64 // time of the first, likewise
	lastBeat  int64   // number of the last row's beat
	lastHeard int64   // number of the last beat heard
	heardAt   float64 // and its time, seconds
	err       error   // of the sink
}

func newPipeline(window float64, sink Sink) *pipeline {
	p := &pipeline{sink: sink, events: map[beat.Kind]int{}, first: math.NaN(), last: math.NaN()}
	p.rate = rate.NewAccumulator(window, p.window)
	return p
}

// batch takes a stretch of finished beats and events.
func (p *pipeline) batch(b *beat.Batch) error {
	for _, ev := range b.Events {
		p.events[ev.Kind]++
		switch ev.Kind {
		case beat.Stop:
			p.ending.stop(ev)
		case beat.Gap, beat.Masked:
			p.ending.hide(ev)
		}
	}
	if len(b.Events) > 0 {
		if err := p.sink.Events(b.Events); err != nil {
			return err
		}
	}
	p.faults.Append(b.Beats, b.Events)
	p.windows = p.rate.Append(p.windows, b)
	return p.err
}

// window passes the beats of a finished window to the sink.
func (p *pipeline) window(_ *rate.Window, beats []beat.Beat, residual []float64) {
	if p.err != nil {
		return
	}
	if math.IsNaN(p.first) {
		p.first = beats[0].Time
	}
	p.rows = p.rows[:0]
	for i, b := range beats {
		p.rows = append(p.rows, Row{Beat: b, Interval: b.Time - p.last, Residual: residual[i]})
		p.last, p.lastBeat = b.Time, b.Index
		if b.Heard {
			p.lastHeard, p.heardAt = b.Index, b.Time
		}
	}
	p.err = p.sink.Beats(p.rows)
}

// flush finishes the last window of a recording of the given true duration.
func (p *pipeline) flush(duration float64) error {
	p.windows = p.rate.Flush(p.windows, duration)
	return p.err
}
