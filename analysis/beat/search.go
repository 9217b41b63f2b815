package beat

import (
	"math"

	"rundown/dsp/onset"
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
		for _, p := range t.places(v, at, t.model.catch) {
			if t.tooSoon(p.at) {
				continue
			}
			if k, sc, in := t.followsFrom(v, p); in && sc > 1.1*score {
				best, where, score, side = k, p, sc, v
			}
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

// followsFrom returns the state of a movement one of whose beats of side v is at p, whether the next
// few beats follow it, and how clearly all of them are heard: no one beat tells the sides apart as all
// of them do.
func (t *tracker) followsFrom(v int, p place) (k *kalman, score float64, in bool) {
	k = t.start(v, p.at)
	trial := *k
	trial.step(1)
	// Number the beats so that this one sounds with side v.
	sides := t.sides
	t.sides = int64(v) - t.next
	if t.likely(trial, t.next+1) {
		in, score = t.inPlaceScore(&trial, t.next+1)
	}
	t.sides = sides
	score = (p.snr + ahead*score) / (1 + ahead)
	if t.lost != nil && !t.relearned && t.inPhase(p.at, v) {
		score *= 1.4 // the sides may be hard to tell apart; the phase is not
	}
	return k, score, in
}

// asBefore returns where a beat of a side that was found at p is marked by the sound that marked
// it before the movement was lost: contacts resemble each other, but where all of them set in
// tells. It is p where that does not tell.
func (t *tracker) asBefore(v int, p place) place {
	block := float64(t.model.block)
	then, now := [2][]float32{t.setIn[v]}, [2][]float32{t.rises(p.at, t.model.reach())}
	lies := func(by float64) float64 { return coincide(then, now, int(math.Round(by/block))) }
	by, most := t.liesBest(0, lies)
	if most <= lies(0)+surelyMoved {
		return p
	}
	q, ok := t.find(v, p.at+by, 2*block)
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

// inPhase reports whether a beat of side v at a frame comes about where one of that side would,
// had nothing happened to the lost movement, or, where it was lost for less than a stop takes, had
// it hesitated: that comes far more often than a beat that leaves the count.
func (t *tracker) inPhase(at float64, v int) bool {
	n, is := t.passed(t.lost, at, v)
	by := at - t.expected(t.lost, n, v)
	return is || n >= 1 && at-t.last < t.stopAfter() && by > 0 && by < farthest*t.lost.tau
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
	return min(max(4*sd, chance/2*k.tau/n), farthest*k.tau)
}

// farthest is the part of an interval by which a movement that did not stand still is out of its
// place at the most.
const farthest = 0.2

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
