package synth

import (
	"math"
	"math/rand/v2"
)

// ringing is for how many seconds after its last contact a beat is heard.
const ringing = 3e-3

// witness sees the movement run and knows where each beat comes to lie in the
// recording.
type witness struct {
	rec      Recording
	run      *run
	loudness *rand.Rand
	passings []passing
	lapses   []lapse
	events   []Event // of the room and the recorder
}

func newWitness(r Recording) *witness {
	w := &witness{
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
func (w *witness) next() (Beat, bool) {
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
func (w *witness) locate(b *Beat) {
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
