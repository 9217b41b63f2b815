package synth

import (
	"math"
	"math/rand/v2"
)

// run is a movement while it runs.
type run struct {
	m        Movement
	sides    [2]float64 // loudness of tick and tock, dB
	end      float64    // true time at which nobody listens any more
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
	due := r.steady + r.lost
	amplitude := r.m.Mainspring.amplitude(r.steady - r.start)
	if r.over(due) || amplitude < r.m.Least {
		return r.finish(due)
	}
	rate := r.m.rateAt(amplitude) + r.wander
	interval := r.m.Interval() / (1 + rate/86400)

	before := len(r.events)
	stood := r.befall(amplitude, interval)
	if r.over(r.steady + r.lost) {
		r.events = r.events[:before]
		return r.finish(due)
	}
	displaced := r.recur()
	b := Beat{
		Index:     r.index,
		Tock:      r.tock(),
		Amplitude: amplitude,
		Lift:      r.m.liftTime(amplitude, 2*interval),
		Level:     r.level(amplitude),
		Rate:      rate,
		Steady:    r.steady,
	}
	b.Time = r.steady + r.lost + displaced + r.m.side(b.Tock) + sigma(r.m.Jitter)*r.jitter.NormFloat64()
	for _, u := range r.m.Modulations {
		b.Time += u.shift(r.index)
	}
	b.Elapsed = b.Time
	b.Audible = r.silent == 0
	r.note(b, before, stood)

	r.last = b.Time
	r.index++
	r.steady += interval
	r.wander += r.m.Wander * math.Sqrt(interval/3600) * r.wandered.NormFloat64()
	return b, true
}

// over reports whether nothing more is to be heard from true time t on.
func (r *run) over(t float64) bool { return t >= r.end || r.m.Stop > 0 && t >= r.m.Stop }

// tock reports whether the beat at hand falls to the side of tock.
func (r *run) tock() bool { return r.index%2 == 1 != r.flip }

// level returns the loudness of the beat at hand in dB.
func (r *run) level(amplitude float64) float64 {
	return r.sides[sideOf(r.tock())] + 20*math.Log10(amplitude/r.m.Mainspring.Full)
}

// side returns by how much beat error displaces a beat, in seconds.
func (m Movement) side(tock bool) float64 {
	if tock {
		return m.BeatError / 2
	}
	return -m.BeatError / 2
}

// befall lets the faults that are due befall the beat at hand, and returns for
// how long the movement stood still before it.
func (r *run) befall(amplitude, interval float64) (stood float64) {
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
				at := r.steady + r.lost + interval*(0.3+0.4*rng.Float64())
				r.events = append(r.events, Event{
					Kind: "extra", Beat: r.index, Start: at, End: at, Level: r.level(amplitude) + f.Level,
				})
			case "stop":
				r.lost += size
				stood += size
				r.flip = r.flip != (rng.IntN(2) == 1)
			}
		}
	}
	return stood
}

// recur lets the recurrences that are due act on the beat at hand, and returns
// its own displacement in seconds.
func (r *run) recur() (displaced float64) {
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
			r.events = append(r.events, Event{Kind: "displaced", Beat: r.index, Shift: size, Note: "recurrence"})
		default:
			r.shift(size, "recurrence")
		}
	}
	return displaced
}

// shift moves the beat at hand and all later ones by size seconds.
func (r *run) shift(size float64, note string) {
	kind := "late"
	if size < 0 {
		kind = "early"
	}
	r.lost += size
	r.events = append(r.events, Event{Kind: kind, Beat: r.index, Shift: size, Note: note})
}

// note dates the events from number before on, which befell beat b, and adds
// those that can be told only now.
func (r *run) note(b Beat, before int, stood float64) {
	for i := before; i < len(r.events); i++ {
		if e := &r.events[i]; e.Kind != "extra" {
			e.Start, e.End = b.Time, b.Time
		}
	}
	if stood > 0 {
		r.events = append(r.events, Event{Kind: "stop", Beat: b.Index - 1, Start: r.last, End: b.Time, Shift: stood})
	}
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

// finish ends the run, in which the next beat would have been due at true time
// t.
func (r *run) finish(t float64) (Beat, bool) {
	r.done = true
	r.endMissed()
	if t < r.end && r.index > 0 {
		r.events = append(r.events, Event{Kind: "stop", Beat: r.index - 1, Start: r.last, End: r.end, Shift: r.end - t})
	}
	return Beat{}, false
}
