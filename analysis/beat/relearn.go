package beat

import (
	"context"
	"math"

	"rundown/analysis/acquisition"
	"rundown/analysis/contacts"
	"rundown/dsp/onset"
)

// After so many seconds without a beat, the tracker listens anew: the microphone
// may have been moved, or the recording level changed. While hardly anything
// sets in at all, it does so at every patience-th occasion only: a movement that
// stands still may do so for the rest of the night.
const (
	relearnSeconds = 30
	patience       = 10
)

// worthReading is how many beats a sound must have been followed for before it was
// learned anew, for its stacks to be kept: a lift is not told from fewer.
const worthReading = 200

// relearn looks for the beat in the latest stretch as if for the first time. It
// returns whether the model has learned the movement's sound anew. A movement of
// another period is another movement, and is not followed.
func (t *tracker) relearn() bool {
	span := relearnSeconds * t.model.rate
	since := max(t.last, t.surveyed, float64(t.buffer.first))
	if t.lost == nil || float64(t.buffer.last)-since < span {
		return false
	}
	t.surveyed = float64(t.buffer.last)
	t.surveys++
	if t.surveys%patience != 1 && !t.lively(t.buffer.last-int64(span)) {
		return false
	}
	x, from := t.buffer.span(t.buffer.last-int64(span), t.buffer.last)
	h := acquisition.Find(context.Background(), x, t.model.rate, acquisition.Options{Period: t.model.period})
	if h == nil || math.Abs(h.Period/t.model.period-1) > 0.02 {
		return false
	}
	e := learn(x, t.model.rate, h, t.model.band)
	if !e.believable() {
		return false
	}
	if t.stacks.Beats(0)+t.stacks.Beats(1) < worthReading {
		t.stacks = contacts.NewStacker(1, 1)
	}
	t.before = t.models()
	t.model, t.relearned, t.surveys = e, true, 0
	t.stacks, t.wholes, t.since = e.newStacks(), [2]whole{}, t.next
	t.levels, t.snrs, t.room = [2]running{}, [2]running{}, running{}
	t.setIn = [2][]float32{}
	t.roughs, t.centres, t.roughRoom = [2]running{}, [2]running{}, running{}
	// The new marks may lie some milliseconds from the old ones.
	t.lost.p[0][0] += math.Pow(0.002*e.rate, 2)
	t.lost.b = e.offset
	t.from = float64(from)
	return true
}

// lively tells whether from a frame on as many sounds set in clearly as make a
// beat, by the loudness at a glance.
func (t *tracker) lively(from int64) bool {
	const (
		clear = 1.8 // nats, which chance alone hardly reaches in half a minute
		few   = 8
	)
	n := 0
	for _, s := range onset.Strength(nil, t.buffer.roughly(float64(from), float64(t.buffer.last)), t.model.perSecond()) {
		if s >= clear {
			n++
		}
	}
	return n >= few
}

// matchSides decides which of a new model's templates is of which side: the one by
// which the count goes on as it was, as nearly as can be.
func (t *tracker) matchSides(lost *kalman, at float64, v int) {
	t.relearned = false
	n := int64(math.Round((at - lost.x) / lost.tau))
	side := t.sideOf(t.next-1+n) ^ t.first
	t.sides = int64(v) - (t.next - 1 + n)
	t.first = v ^ side
}
