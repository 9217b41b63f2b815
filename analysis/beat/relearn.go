package beat

import "math"

// After so many seconds without a beat, the tracker listens anew: the microphone
// may have been moved, or the recording level changed.
const relearnSeconds = 30

// relearn looks for the beat in the latest stretch as if for the first time. It
// returns whether the ear has learned the movement's sound anew. A movement of
// another period is another movement, and is not followed.
func (t *tracker) relearn() bool {
	span := relearnSeconds * t.ear.rate
	since := max(t.last, t.surveyed, float64(t.tape.first))
	if t.lost == nil || float64(t.tape.last)-since < span {
		return false
	}
	t.surveyed = float64(t.tape.last)
	x, from := t.tape.span(t.tape.last-int64(span), t.tape.last)
	bands := hear(x, t.ear.rate)
	c, ok := FindCadence(bands, t.ear.perSecond(), false)
	if !ok || math.Abs(c.Period*float64(t.ear.block)/t.ear.period-1) > 0.02 {
		return false
	}
	e, s := learn(x, t.ear.rate, t.ear.block, bands, c, t.ear.band)
	if !e.believable() {
		return false
	}
	t.ear, t.relearned = e, true
	if t.shapes != nil {
		t.shapes.flush(t)
	}
	t.shapes = s
	t.levels, t.snrs, t.room = [2]running{}, [2]running{}, running{}
	t.roughs, t.roughRoom = [2]running{}, running{}
	// The new marks may lie some milliseconds from the old ones.
	t.lost.p[0][0] += math.Pow(0.002*e.rate, 2)
	t.lost.b = e.offset
	t.from = float64(from)
	return true
}

// matchVoices decides which of a new ear's voices is which side: the one by
// which the count goes on as it was, as nearly as can be.
func (t *tracker) matchVoices(lost *kalman, at float64, v int) {
	t.relearned = false
	n := int64(math.Round((at - lost.x) / lost.tau))
	side := t.voiceOf(t.next-1+n) ^ t.first
	t.sides = int64(v) - (t.next - 1 + n)
	t.first = v ^ side
}
