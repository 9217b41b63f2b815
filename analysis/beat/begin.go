package beat

import (
	"math"
	"slices"

	"rundown/dsp/stats"
)

// begin sets the tracker on the first of the beats by which its model was learned
// that are followed by others, and goes back from it to the first that can be
// heard. It reports whether there is one.
func (t *tracker) begin() bool {
	origin := float64(t.buffer.first)
	for i, m := range t.model.beats {
		k := t.start(m.side, origin+m.at)
		if p, ok := t.model.pace(i); ok {
			k = newKalman(origin+m.at-float64(m.side)*p.b, p.tau, p.b, t.model.sigma, 2*t.model.sigma)
			k.grows, k.gains = p.grows, p.gains
		}
		k.wound()
		t.sides = int64(m.side) - t.next
		trial := *k
		trial.step(1)
		if !t.inPlace(&trial, t.next+1) {
			continue
		}
		p := place{at: origin + m.at, snr: t.model.templates[m.side].snr}
		if q, _ := t.find(m.side, p.at, 0.001*t.model.rate); q.snr > 0 && t.tooWeak(m.side, q.snr) {
			continue // the room, before the movement was started
		}
		earlier := t.back(*k)
		t.k = k
		if len(earlier) > 0 {
			t.sides += earlier[0].n - t.next
			r := earlier[0].k
			r.reverse()
			t.k = &r
		}
		t.first = t.sideOf(t.next)
		t.replay(append(earlier, earlierBeat{place: p}))
		return true
	}
	return false
}

// replay takes beats that were found going back, of ascending numbers, at the first of which the
// tracker's state is, and those between them as not heard.
func (t *tracker) replay(beats []earlierBeat) {
	t.again = true
	defer func() { t.again = false }()
	for i, e := range beats {
		if i > 0 {
			v := t.sideOf(t.next)
			due, sd := t.k.expect(v)
			if math.Abs(e.at-due) > suspect*sd {
				t.suspected(due, e.at)
				t.k.displace(e.at - due)
			}
			t.k.update(v, e.at)
		}
		if t.heard(e.place); t.k == nil {
			return // it came too soon: the movement is looked for from here on
		}
		if i+1 < len(beats) {
			for range beats[i+1].n - e.n - 1 {
				due, _ := t.k.expect(t.sideOf(t.next))
				t.unheard(due)
			}
		}
	}
}

// tooWeak reports whether a match is far weaker than the beats that a side was learned from,
// of which there are enough to tell.
func (t *tracker) tooWeak(side int, snr float64) bool {
	const few = 10
	v := t.model.templates[side]
	return v.average.N > few && snr < weakest*v.snr
}

// pace is how beats come: the interval between them, by how much side 1 comes late against the
// middle, and by how much more either is from beat to beat, frames.
type pace struct{ tau, b, gains, grows float64 }

// pace returns how beats come at one of those by which the model was learned, as the next few have
// it; false where too few of them follow each other by between a quarter and three quarters of a
// period. At full wind all of it soon changes.
func (e *soundModel) pace(from int) (pace, bool) {
	const next, few = 24, 3
	var steps [2][]float64 // by the side that they start with
	beats := e.beats[from:min(from+next, len(e.beats))]
	for i, m := range beats[:len(beats)-1] {
		if d := beats[i+1].at - m.at; beats[i+1].side != m.side && math.Abs(d/e.period-0.5) < 0.25 {
			steps[m.side] = append(steps[m.side], d)
		}
	}
	if min(len(steps[0]), len(steps[1])) < few {
		return pace{}, false
	}
	x, xGrows := begins(steps[0])
	y, yGrows := begins(steps[1])
	// There are two beats from a step to the next one of its side.
	return pace{(x + y) / 2, (x - y) / 2, (xGrows + yGrows) / 4, (xGrows - yGrows) / 4}, true
}

// begins returns where values that may grow evenly begin, and by how much they grow from one to
// the next: medians of the growth over half of them, and of what is left (after H. Theil, Indag.
// Math. 12, 1950); few are taken to be alike.
func begins(x []float64) (first, grows float64) {
	const enough = 8
	half := len(x) / 2
	if len(x) >= enough {
		grown := make([]float64, half)
		for i := range grown {
			grown[i] = (x[i+half] - x[i]) / float64(half)
		}
		grows = stats.Median(grown)
	}
	left := make([]float64, len(x))
	for i, v := range x {
		left[i] = v - grows*float64(i)
	}
	return stats.Median(left), grows
}

// earlierBeat is one that was found going back.
type earlierBeat struct {
	n int64
	place
	k kalman // the state at it, which goes back
}

// back goes back from beat next, at which k is, as long as beats are heard, and returns them in order
// of time, numbered from next as 0, from the first one on that is followed by others.
func (t *tracker) back(k kalman) []earlierBeat {
	var found []earlierBeat
	defer func() { t.centres = [2]running{} }() // replay takes them again
	r := k
	r.reverse()
	r.step(1)
	for n, missed := int64(-1), 0; missed < ahead; n-- {
		v := t.sideOf(t.next + n)
		due, _ := r.expect(v)
		if due-t.model.before < float64(t.buffer.first) {
			break
		}
		t.observeBefore(due)
		q, ok := t.earlier(&r, n, due)
		if missed++; ok && !t.tooWeak(v, q.snr) { // else it is the room, before the movement was started
			found, missed = append(found, earlierBeat{n, q, r}), 0
		}
		r.step(1)
	}
	slices.Reverse(found)
	for i := range found {
		if followed(found[i:], func(n int64) bool { return t.audible(t.sideOf(t.next + n)) }) {
			return found[i:]
		}
	}
	return nil
}

// earlier looks for beat n, counted from next, where r, which goes back, expects it, or else where
// it moved from, and takes it in.
func (t *tracker) earlier(r *kalman, n int64, due float64) (place, bool) {
	if q, _, ok := t.look(r, t.next+n); ok {
		if moved, p, other := t.another(r, t.next+n, due, q); other {
			*r = *moved
			return p, true
		}
		r.update(t.sideOf(t.next+n), q.at)
		t.centres[t.sideOf(t.next+n)].add(t.centre(q.at))
		return q, true
	}
	moved, p, _, is := t.moved(r, t.next+n, due)
	if is {
		*r = *moved
	}
	return p, is
}

// followed reports whether the first of some beats before beat 0 is followed by the next few of
// them, or by most of the next ones but for those that are not audible; from beat 0 on, all are there.
func followed(beats []earlierBeat, audible func(n int64) bool) bool {
	hits, tries, next := 0, 0, 1
	for i := int64(1); i <= ahead; i++ {
		n := beats[0].n + i
		there := n >= 0
		if next < len(beats) && beats[next].n == n {
			next++
			there = true
		}
		if there {
			hits++
		}
		if there || audible(n) {
			tries++
		}
		if i == first && hits == first {
			return true
		}
	}
	return hits >= first && hits*ahead >= enough*tries
}
