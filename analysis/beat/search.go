package beat

import (
	"math"
	"slices"

	"rundown/dsp/onset"
	"rundown/dsp/stats"
)

// searchSeconds is how much is searched at once after a long time without a
// beat: each search takes two seconds more to know how loud the room is.
const searchSeconds = 6

// search looks for the movement where it was lost, or for its first beat. A
// sound is taken for a beat if most of the next few beats follow it. It returns
// false when it needs more sound, or when that ends.
func (t *tracker) search() bool {
	blocks := float64(t.buffer.block)
	limit := float64(t.buffer.last) - t.lookahead()
	if t.buffer.ended {
		limit = float64(t.buffer.last) - t.model.after
	}
	t.from = max(t.from, float64(t.buffer.first))
	if t.lost != nil && !t.relearned && t.coast(limit) {
		return true
	}
	least := 8 * blocks
	if !t.buffer.ended && t.from-t.last > relearnSeconds*t.model.rate {
		least = searchSeconds * t.model.rate
	}
	if limit-t.from < least {
		return false
	}
	// Onsets need some context before and after.
	first := max(0, int((t.from-float64(t.buffer.first))/blocks)-int(2*t.model.perSecond()))
	s := onset.Strength(nil, t.buffer.energies(first, len(t.buffer.rough)), t.model.perSecond())
	origin := float64(t.buffer.first) + float64(first)*blocks
	for i := max(1, int((t.from-origin)/blocks)); i < len(s)-1; i++ {
		at := origin + float64(i)*blocks
		if at > limit {
			break
		}
		if s[i] < t.model.onset || s[i] < s[i-1] || s[i] <= s[i+1] || t.drowned(s, i) {
			continue
		}
		if t.lock(at) {
			return true
		}
	}
	t.from = limit
	t.buffer.forget(int64(float64(t.buffer.last) - relearnSeconds*t.model.rate))
	return t.relearn()
}

// drowned reports whether an onset is no stronger than so many others within a period
// that it is not tried: two beats have five sounds each at the most (common practice),
// and where a room has more, that is all one can do in bounded time.
func (t *tracker) drowned(s []float32, i int) bool {
	const most = 10
	half := int(t.model.period / 2 / float64(t.buffer.block))
	stronger := 0
	for j := max(1, i-half); j < min(len(s)-1, i+half+1); j++ {
		if s[j] > s[i] && s[j] >= s[j-1] && s[j] > s[j+1] {
			stronger++
		}
	}
	return stronger >= most
}

// begin sets the tracker on the first of the beats by which its model was learned
// that are followed by others, and goes back from it to the first that can be
// heard. It reports whether there is one.
func (t *tracker) begin() bool {
	origin := float64(t.buffer.first)
	for i, m := range t.model.beats {
		k := t.start(m.side, origin+m.at)
		if tau, b, grows, ok := t.model.pace(i); ok {
			k = newKalman(origin+m.at-float64(m.side)*b, tau, b, t.model.sigma, 2*t.model.sigma)
			k.grows = grows
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

// pace returns the interval between beats at one of those by which the model was learned, by how
// much side 1 comes late there against the middle, and by how much more from beat to beat, as the
// next few have it; false where too few of them follow each other by between a quarter and three
// quarters of a period. At full wind all of it soon changes.
func (e *soundModel) pace(from int) (tau, b, grows float64, ok bool) {
	const next, few = 24, 3
	var steps [2][]float64 // by the side that they start with
	beats := e.beats[from:min(from+next, len(e.beats))]
	for i, m := range beats[:len(beats)-1] {
		if d := beats[i+1].at - m.at; beats[i+1].side != m.side && math.Abs(d/e.period-0.5) < 0.25 {
			steps[m.side] = append(steps[m.side], d)
		}
	}
	if min(len(steps[0]), len(steps[1])) < few {
		return 0, 0, 0, false
	}
	x, xGrows := begins(steps[0])
	y, yGrows := begins(steps[1])
	return (x + y) / 2, (x - y) / 2, (xGrows - yGrows) / 4, true // two beats from step to step
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

// coast looks for the lost movement where it would be had nothing happened, as
// far as its place can still be foretold to a tenth of the interval. Matched
// with what they should be, beats are heard there that are too weak to set in
// audibly. The longer it was lost, the more beats are passed over: once one is
// found in place, so are those after it.
func (t *tracker) coast(limit float64) bool {
	for {
		n := t.tried + 1 + t.tried/64
		k := *t.lost
		k.step(float64(n))
		due, sd := k.expect(t.sideOf(t.next - 1 + n))
		// One beat alone, where the recording ends, is noise as soon as it was tried often enough.
		if due > limit || sd > 0.1*k.tau || due+first*k.tau+t.model.after > float64(t.buffer.last) {
			return false
		}
		t.tried = n
		trial := k
		p, _, ok := t.look(&k, t.next-1+n)
		if !ok || t.tooSoon(p.at) || math.Abs(p.at-due) > t.tolerance(t.lost, float64(n)) || !t.inPlace(&trial, t.next-1+n) {
			continue
		}
		t.catchUp(t.lost, n, math.Inf(1))
		t.lost = nil
		t.k.update(t.sideOf(t.next), p.at)
		t.heard(p)
		return true
	}
}

// lock tries to follow the movement from a sound that sets in at a frame.
func (t *tracker) lock(onset float64) bool {
	var best *kalman
	var where place
	score, side := 0.0, 0
	for v := range 2 {
		// Its clearest sound is found at a tenth of what all of them take.
		at := onset + t.model.delay[v]
		if p, _ := t.find(v, at, t.model.catch+sameSound*t.model.rate/4); p.snr < leastSNR*t.louder() {
			continue
		}
		p, ok := t.anywhere(v, at, t.model.catch)
		if !ok || t.tooSoon(p.at) {
			continue
		}
		k := t.start(v, p.at)
		trial := *k
		trial.step(1)
		// Number the beats so that this one sounds with side v.
		sides := t.sides
		t.sides = int64(v) - t.next
		in, sc := false, 0.0
		if t.likely(trial, t.next+1) {
			in, sc = t.inPlaceScore(&trial, t.next+1)
		}
		t.sides = sides
		sc += p.snr
		if t.lost != nil && !t.relearned {
			if _, inPhase := t.passed(t.lost, p.at, v); inPhase {
				sc *= 1.4 // the sides may be hard to tell apart; the phase is not
			}
		}
		if in && sc > 1.1*score {
			best, where, score, side = k, p, sc, v
		}
	}
	if best == nil {
		return false
	}
	sides := t.sides
	t.sides = int64(side) - t.next
	if p := t.asBefore(side, where); p != where {
		best, where = t.start(side, p.at), p
	}
	t.sides = sides
	t.resume(best, where, side)
	return true
}

// asBefore returns where a beat of a side that was found at p is marked by the sound that marked
// it before the movement was lost: contacts resemble each other, but where all of them set in
// tells. It is p where that does not tell.
func (t *tracker) asBefore(v int, p place) place {
	block := float64(t.model.block)
	reach := t.model.reach()
	then, now := [2][]float32{t.setIn[v]}, [2][]float32{t.rises(p.at, reach)}
	best, most := 0, coincide(then, now, 0)+surelyMoved
	for by := -int(reach / block); by <= int(reach/block); by++ {
		if c := coincide(then, now, by); c > most && math.Abs(float64(by)*block) > sameSound*t.model.rate {
			best, most = by, c
		}
	}
	if best == 0 {
		return p
	}
	q, ok := t.find(v, p.at+float64(best)*block, 2*block)
	if !ok || t.tooSoon(q.at) {
		return p
	}
	trial := *t.start(v, q.at)
	trial.step(1)
	if !t.inPlace(&trial, t.next+1) {
		return p
	}
	return q
}

// likely reports whether some of the next few beats from n on, at which k is, are about
// where it expects them, by their clearest sound: that, too, is found at a tenth of what all
// of them take.
func (t *tracker) likely(k kalman, n int64) bool {
	const some = 3
	found := 0
	for range ahead {
		v := t.sideOf(n)
		due, sd := k.expect(v)
		if !t.holds(due) || t.silenced(due) {
			found++
		} else if p, _ := t.find(v, due, max(sameSound*t.model.rate, 3*sd)+sameSound*t.model.rate/4); p.snr >= leastSNR*t.louder() {
			found++
		}
		k.step(1)
		n++
	}
	return found >= some
}

// start returns a state for a beat of side v at a frame.
func (t *tracker) start(v int, at float64) *kalman {
	tau, b, uncertain := t.model.period/2, t.model.offset, 0.002*t.model.period/2
	sigma := t.model.sigma
	if t.lost != nil {
		tau, b, sigma = t.lost.tau, t.lost.b, t.lost.sigma
	}
	return newKalman(at-float64(v)*b, tau, b, sigma, uncertain)
}

// resume goes on at a beat of side v at p, and says what happened since the
// last one.
func (t *tracker) resume(k *kalman, p place, v int) {
	if t.lost == nil {
		t.sides = int64(v) - t.next
		t.first = v
		t.k = k
		t.heard(p)
		return
	}
	lost := t.lost
	t.lost = nil
	pause := p.at - t.last
	if t.relearned {
		t.matchSides(lost, p.at, v)
	}
	n, inPhase := t.passed(lost, p.at, v)
	if inPhase {
		t.catchUp(lost, n, math.Inf(1))
		t.k = k
		t.carry(lost)
		t.heard(p)
		return
	}
	if pause-t.zeros.Among(t.last, p.at) > t.stopAfter() && !t.noisy(t.last, p.at) {
		t.endMissing(t.last)
		a, b := t.clock(t.last), t.clock(p.at)
		due := *lost
		due.step(1)
		at, _ := due.expect(v)
		t.event(Event{Kind: Stop, Beat: t.next - 1, Start: a, End: b, Shift: b - t.clock(at)}, p.at)
		t.sides = int64(v) - t.next
		t.k = k
		t.heard(p)
		return
	}
	if pause < 1.5*t.model.period {
		// Nothing says that a beat was lost: the next one, by its side.
		n = 1
		if t.sideOf(t.next) != v {
			n = 2
		}
	}
	n = max(n, 1)
	due := t.expected(lost, n, v)
	t.catchUp(lost, n, p.at)
	t.displaced(due, p.at)
	t.sides = int64(v) - t.next
	t.k = k
	t.heard(p)
}

// passed returns how many beats after that of a lost state, which is at beat
// next−1, a beat of side v at a frame is, by its side, and whether it is where
// it would be had nothing happened.
func (t *tracker) passed(lost *kalman, at float64, v int) (n int64, inPhase bool) {
	beats := (at - float64(v)*lost.b - lost.x) / lost.tau
	n = int64(math.Round(beats))
	if t.sideOf(t.next-1+n) != v {
		if beats > float64(n) {
			n++
		} else {
			n--
		}
	}
	by := at - t.expected(lost, n, v)
	return n, n >= 1 && math.Abs(by) <= t.tolerance(lost, float64(n))
}

// expected returns where the beat n beats after the state's was due.
func (t *tracker) expected(k *kalman, n int64, v int) float64 {
	return k.x + float64(n)*k.tau + float64(v)*k.b
}

// chance is the probability that a movement that stood still goes on as near as this to
// its old place, for a pause of one beat: the longer one is, the likelier it is a stop.
const chance = 0.06

// tolerance is how far from its place n beats on a beat may be without the movement's
// having stood still: which it left for good by less, its times tell. One that stood
// still goes on anywhere in an interval.
func (t *tracker) tolerance(k *kalman, n float64) float64 {
	c := *k
	c.step(n)
	_, sd := c.expect(0)
	return min(max(4*sd, chance/2*k.tau/n), 0.2*k.tau)
}

// carry takes over what a lost state knew of the interval.
func (t *tracker) carry(lost *kalman) {
	t.k.p[1][1] = min(t.k.p[1][1], lost.p[1][1]+lost.sigma*lost.sigma*1e-4)
}

// catchUp passes over the n−1 beats between a lost state and the beat after
// them as not heard. Where that one came before they were due, at a frame, they
// share the time that there was.
func (t *tracker) catchUp(lost *kalman, n int64, at float64) {
	c := *lost
	t.k = &c
	share, since := 1.0, t.given
	if t.expected(lost, n-1, t.sideOf(t.next+n-2)) >= at {
		share = (at - since) / (float64(n) * lost.tau)
	}
	t.k.step(1)
	for range n - 1 {
		due, _ := t.k.expect(t.sideOf(t.next))
		t.unheard(since + share*(due-since))
	}
}

// displaced notes that the movement goes on out of its old place: that the
// recorder lost samples, or else what may have been a hesitation.
func (t *tracker) displaced(due, at float64) {
	t.endMissing(at)
	if t.zeros.Among(t.last, at) == 0 {
		t.suspected(due, at)
		return
	}
	a, b := t.clock(due), t.clock(at)
	t.event(Event{Kind: Gap, Beat: t.next, Start: min(a, b), End: max(a, b), Shift: b - a}, at)
}

// noisy tells whether the room was too loud, for most of a stretch, to hear
// beats in it.
func (t *tracker) noisy(from, to float64) bool {
	e := t.buffer.energies(t.buffer.blocks(from, to))
	loud := 0
	level := float32(0.15 * max(t.levels[0].median(), t.levels[1].median()))
	for _, v := range e {
		if v > level {
			loud++
		}
	}
	return len(e) > 0 && loud*2 > len(e)
}
