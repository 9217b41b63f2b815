package synth

import (
	"math"
	"math/rand/v2"
)

// run is a movement while it runs.
type run struct {
	m        Movement
	end      float64 // true time at which nobody listens any more
	jitter   *rand.Rand
	wandered *rand.Rand

	faults      []*calendar // beside m.Faults
	recurrences []*rand.Rand

	index  int64
	start  float64 // Steady of beat 0
	steady float64 // of the beat to come
	lost   float64 // by late, early and stop events so far
	wander float64 // seconds a day
	flip   bool    // a stop exchanged the sides
	silent int     // beats still to be missed
	last   float64 // Time of the last beat
	done   bool
	missed Event   // the run of missed beats under way
	events []Event // finished, for the caller to take away
}

func newRun(m Movement, seed uint64, end float64) *run {
	m = m.withDefaults()
	r := &run{m: m, end: end, jitter: stream(seed, jitterStream), wandered: stream(seed, wanderStream)}
	for i, f := range m.Faults {
		r.faults = append(r.faults, newCalendar(f.Occasion, stream(seed, faultStream+purpose(i))))
	}
	for i := range m.Recurrences {
		r.recurrences = append(r.recurrences, stream(seed, recurrenceStream+purpose(i)))
	}
	r.start = m.Start
	setDefault(&r.start, stream(seed, startStream).Float64()*m.Interval())
	r.steady = r.start
	r.done = m.Absent
	return r
}

// next returns the next beat; false when the movement has stopped for good, or
// the time is over.
func (r *run) next() (Beat, bool) {
	if r.done {
		return Beat{}, false
	}
	amplitude := r.m.Mainspring.amplitude(r.steady - r.start)
	if t := r.steady + r.lost; t >= r.end || amplitude < r.m.Least || r.m.Stop > 0 && t >= r.m.Stop {
		r.finish(t)
		return Beat{}, false
	}
	rate := r.m.rateAt(amplitude) + r.wander
	interval := r.m.Interval() / (1 + rate/86400)

	b := Beat{
		Index:     r.index,
		Amplitude: amplitude,
		Lift:      r.m.liftTime(amplitude, 2*interval),
		Level:     20 * math.Log10(amplitude/r.m.Mainspring.Full),
		Rate:      rate,
		Steady:    r.steady,
	}
	stood := r.befall(&b, interval)
	displaced := r.recur(&b)
	b.Tock = r.index%2 == 1 != r.flip
	b.Time = r.steady + r.lost + displaced + r.m.Jitter*r.jitter.NormFloat64() + r.m.side(b.Tock)
	for _, u := range r.m.Modulations {
		b.Time += u.shift(r.index)
	}
	r.place(&b, stood)

	r.last = b.Time
	r.index++
	r.steady += interval
	r.wander += r.m.Wander * math.Sqrt(interval/3600) * r.wandered.NormFloat64()
	return b, true
}

// side returns by how much beat error displaces a beat, in seconds.
func (m Movement) side(tock bool) float64 {
	if tock {
		return m.BeatError / 2
	}
	return -m.BeatError / 2
}

// befall lets the faults that are due befall beat b, and returns for how long
// the movement stood still before it.
func (r *run) befall(b *Beat, interval float64) (stood float64) {
	for i, f := range r.m.Faults {
		for r.faults[i].due(r.steady + r.lost) {
			rng := r.faults[i].rng
			size := f.Size
			if f.Upto > 0 {
				size += rng.Float64() * (f.Upto - f.Size)
			}
			switch f.Kind {
			case "late":
				r.shift(size, "")
			case "early":
				r.shift(-size, "")
			case "missed":
				r.silent = max(r.silent, f.Beats, 1)
			case "extra":
				at := b.Steady + r.lost + interval*(0.3+0.4*rng.Float64())
				r.events = append(r.events, Event{Kind: "extra", Beat: b.Index, Start: at, End: at, Level: b.Level + f.Level})
			case "stop":
				r.lost += size
				stood += size
				r.flip = r.flip != (rng.IntN(2) == 1)
			}
		}
	}
	return stood
}

// recur lets the recurrences that are due act on beat b, and returns its own
// displacement in seconds.
func (r *run) recur(b *Beat) (displaced float64) {
	for i, c := range r.m.Recurrences {
		if !c.due(r.index) {
			continue
		}
		rng := r.recurrences[i]
		acts := c.Probability == 0 || rng.Float64() < c.Probability
		size := c.Size * (1 + c.Spread*(2*rng.Float64()-1))
		if !acts {
			continue
		}
		switch c.Effect {
		case "missed":
			r.silent = max(r.silent, 1)
		case "displaced":
			displaced += size
			t := b.Steady + r.lost
			r.events = append(r.events, Event{Kind: "displaced", Beat: b.Index, Start: t, End: t, Shift: size, Note: "recurrence"})
		default:
			r.shift(size, "recurrence")
		}
	}
	return displaced
}

// shift moves this beat and all later ones by size seconds.
func (r *run) shift(size float64, note string) {
	kind := "late"
	if size < 0 {
		kind = "early"
	}
	r.lost += size
	t := r.steady + r.lost
	r.events = append(r.events, Event{Kind: kind, Beat: r.index, Start: t, End: t, Shift: size, Note: note})
}

// place settles what can be told of beat b once its time is known.
func (r *run) place(b *Beat, stood float64) {
	if stood > 0 {
		r.events = append(r.events, Event{Kind: "stop", Beat: b.Index - 1, Start: r.last, End: b.Time, Shift: stood})
	}
	b.Elapsed = b.Time
	b.Audible = r.silent == 0
	if b.Audible {
		r.endMissed()
		return
	}
	r.silent--
	if r.missed.Kind == "" {
		r.missed = Event{Kind: "missed", Beat: b.Index, Start: b.Time}
	}
	r.missed.End = b.Time
}

func (r *run) endMissed() {
	if r.missed.Kind != "" {
		r.events = append(r.events, r.missed)
		r.missed = Event{}
	}
}

// finish ends the run at true time t.
func (r *run) finish(t float64) {
	r.done = true
	r.endMissed()
	if t < r.end && r.index > 0 {
		r.events = append(r.events, Event{Kind: "stop", Beat: r.index - 1, Start: r.last, End: r.end, Shift: r.end - t})
	}
}
