package beat

import (
	"cmp"
	"math"
	"slices"

	"rundown/analysis/contacts"
	"rundown/dsp/onset"
)

// explain decides what became of a beat that is not where it was due.
func (t *tracker) explain(due, sd float64) {
	v := t.sideOf(t.next)
	t.observeAhead(due)
	if !t.audible(0) && !t.audible(1) && sd < t.model.period/20 {
		if due-t.last > doubtSeconds*t.model.rate {
			t.lose() // what was learned may be another sound than is to be heard now
			return
		}
		t.unheard(due) // nothing can be told until the room is quieter
		return
	}
	k := *t.k
	k.step(1)
	in := t.inPlace(&k, t.next+1)
	if in && k.displaced == t.k.displaced {
		t.alone(v, due, sd)
		return
	}
	usual := math.Sqrt(t.usual(0) * t.usual(1))
	stays := usual > fadingSNR*t.louder() && t.staying() > asUsual*usual
	if k, p, clearest, ok := t.moved(t.k, t.next, due); ok && (!stays || clearest > usual/asUsual) {
		if stays && t.next <= fewMistaken {
			t.mistaken()
		} else {
			t.suspected(due, p.at)
		}
		t.k = k
		t.heard(p)
		return
	}
	if stays || in { // though less evenly than they should
		t.alone(v, due, sd)
		return
	}
	ends := t.buffer.ended && due+t.lookahead() > float64(t.buffer.last) // too few are left to tell more
	if ends {
		if p, ok := t.faintly(v, due, sd); ok {
			t.heard(p)
			return
		}
	}
	if t.goesOn(1-v, ends) {
		t.unheard(due)
		return
	}
	t.lose()
}

// goesOn reports whether the beat after next, of side v, is in its place: before one clear beat there
// was no stop, though none follow. Where the recording ends, a faint one is as good.
func (t *tracker) goesOn(v int, ends bool) bool {
	after := *t.k
	after.step(1)
	due, sd := after.expect(v)
	if due+t.model.after > float64(t.buffer.last) {
		return false
	}
	_, clear := t.match(v, due, sd, 0)
	if ends && !clear {
		_, _, clear = t.look(&after, t.next+1)
	}
	return clear
}

// alone takes a beat between others that are in place: it is there as well, or
// was displaced alone, or not heard.
func (t *tracker) alone(v int, due, sd float64) {
	p, ok := t.faintly(v, due, sd)
	if !ok && t.usual(v) >= fadingSNR { // a fainter side is where noise is loudest
		p, ok = t.anywhere(v, due, displacedAlone*t.model.period)
	}
	if ok {
		t.heard(p)
	} else {
		t.unheard(due)
	}
}

// faintly looks for a beat about where it is due, and if it is in its place, takes a
// faint one.
func (t *tracker) faintly(v int, due, sd float64) (place, bool) {
	p, _, ok := t.nearDue(t.k, v, due, sd)
	if !ok {
		p, _ = t.match(v, due, sd, 0)
		ok = p.snr > faintSNR*t.louder() && math.Abs(p.at-due) < 3*sd
	}
	return p, ok
}

// candidate is a place to which a beat may have moved.
type candidate struct {
	place
	k        kalman  // the state there
	lies     float64 // how nearly its sounds set in where those before them did
	glance   float64 // how clearly it and the next few are heard where that has them, at a glance
	clearest float64 // mean signal-to-noise ratio of the clearest sound in the beats after it
}

// unlikely is what part of the glance at a place at which beats are in place another one must have
// to be looked at: of beats that vary by 2 dB (common practice), the mean of four is so much
// fainter than that of another four once in a thousand.
const unlikely = 0.6

// moved looks for a place to which beat n, at which k is, moved and those after it with
// it, or before it where k goes backwards: of several, that at which the clearest of their
// sounds and all of them together are clearest, and about which they set in as they did about the
// beats before. Contacts resemble each other, and the clearest sound alone may be found at
// another one's place in all of them; but where the lift grows fast, all of them together
// are no longer as they were.
//
// clearest is the mean signal-to-noise ratio of the clearest sound in the beats after it.
func (t *tracker) moved(from *kalman, n int64, due float64) (best *kalman, at place, clearest float64, ok bool) {
	lies := t.pattern(from, n, t.rises)
	var cs, in []candidate
	for _, p := range t.places(t.sideOf(n), due, t.model.reach()) {
		c := candidate{place: p, k: *from, lies: lies(p.at - due)}
		c.k.displace(p.at - due)
		c.glance = t.glance(c.k, n, p.snr) * (1 + c.lies)
		cs = append(cs, c)
	}
	slices.SortStableFunc(cs, func(a, b candidate) int { return cmp.Compare(b.glance, a.glance) })
	for _, c := range cs {
		if len(in) > 0 && c.glance < unlikely*in[0].glance {
			break
		}
		trial := c.k
		trial.step(1)
		var is bool
		if is, c.clearest = t.inPlaceScore(&trial, n+c.k.order()); is {
			in = append(in, c)
		}
	}
	slices.SortStableFunc(in, func(a, b candidate) int { return cmp.Compare(math.Abs(a.at-due), math.Abs(b.at-due)) })
	most := 0.0
	for i, c := range in {
		score := 1.0
		if len(in) > 1 {
			score = ((c.snr+c.clearest)/2 + t.wholeScore(c.k, n)) * (1 + c.lies)
		}
		if score > plainly*most {
			best, at, clearest, most = &in[i].k, c.place, c.clearest, score
		}
	}
	return best, at, clearest, best != nil
}

// glance returns the mean signal-to-noise ratio of the clearest sound of beat n, at which k is,
// and of the next few, where k expects them.
func (t *tracker) glance(k kalman, n int64, snr float64) float64 {
	for range first {
		k.step(1)
		n += k.order()
		v := t.sideOf(n)
		due, sd := k.expect(v)
		p, _ := t.match(v, due, sd, 0)
		snr += p.snr
	}
	return snr / (first + 1)
}

// fewMistaken is in how many first beats it is found at the latest that another sound was
// followed than was learned.
const fewMistaken = 500

// plainly is by what factor a place is clearer than a nearer one to be taken instead: of two
// that are about as clear, the lesser hesitation is the likelier. Of 125 hesitations in eight
// movements, the right place was clearer than all others by 1.05 or more, half of the time by 1.2
// to 1.6, but for four of 0.79 to 1.01, in a lift that doubles in a minute.
const plainly = 1.1

// staying returns how clearly the next few beats are heard where they were due, and not
// a period of their ringing away from there: the mean signal-to-noise ratio.
func (t *tracker) staying() float64 {
	sum := 0.0
	k := *t.k
	for n := t.next; n < t.next+ahead; n++ {
		v := t.sideOf(n)
		due, sd := k.expect(v)
		if p, _ := t.match(v, due, sd, k.stray); math.Abs(p.at-due) < 4*sd {
			sum += p.snr
		}
		k.step(1)
	}
	return sum / ahead
}

// mistaken notes that the sound that was followed so far is another one than was learned,
// since beats are still heard where it was, and far more clearly elsewhere: from the next
// beat on, the mark is another one.
func (t *tracker) mistaken() {
	t.before = t.models()
	last := &t.before[len(t.before)-1]
	last.Mistaken, last.Stacks = true, contacts.NewStacker(1, 1) // it is much, and says nothing
	t.stacks, t.wholes, t.since = t.model.newStacks(), [2]whole{}, t.next
	t.snrs, t.centres = [2]running{}, [2]running{}
}

// wholeAt returns how clearly all sounds of a side are heard where it is marked.
func (t *tracker) wholeAt(v int, at float64) float64 {
	near := int(sameSound * t.model.rate / 4)
	m := t.wholeBeat(v)
	before, after := m.SpanNear(near)
	x, first := t.buffer.span(int64(at)-int64(before), int64(at)+int64(after)+1)
	found, _ := m.Near(x, first, at, near)
	return found.SNR
}

// wholeScore returns how clearly all sounds of beat n, at which k is, and of the next few
// are heard where k expects them: the mean signal-to-noise ratio.
func (t *tracker) wholeScore(k kalman, n int64) float64 {
	sum, tries := 0.0, 0
	for range ahead {
		v := t.sideOf(n)
		due, _ := k.expect(v)
		if !t.holds(due) {
			break
		}
		sum += t.wholeAt(v, due)
		tries++
		k.step(1)
		n += k.order()
	}
	return sum / float64(max(1, tries))
}

// reach is how far from where it is due a displaced beat is looked for, frames: the
// other side's would be taken for it beyond.
func (e *soundModel) reach() float64 { return 0.15 * e.period }

// anywhere looks for a beat of a side within so many frames of a place, by all
// of its sounds: one of them alone may be taken for another that is like it.
func (t *tracker) anywhere(v int, at, within float64) (place, bool) {
	ps := t.places(v, at, within)
	if len(ps) == 0 {
		return place{}, false
	}
	return ps[0], true
}

// places returns where within so many frames of a place a beat of a side may be:
// the likeliest by all of its sounds first, then by the clearest of them alone,
// since the others move against it as the amplitude falls.
func (t *tracker) places(v int, at, within float64) []place {
	var ps []place
	least := max(leastSNR*t.louder(), weakest*t.snrs[v].median())
	for _, m := range slices.Concat(t.matches(t.wholeBeat(v), at, within), t.matches(t.model.templates[v].wide, at, within)) {
		p, _ := t.match(v, m.Frame, sameSound*t.model.rate/4, 0)
		same := func(q place) bool { return math.Abs(p.at-q.at) < sameSound*t.model.rate/4 }
		if p.snr >= least && !slices.ContainsFunc(ps, same) {
			ps = append(ps, p)
		}
	}
	return ps
}

// matches returns where within so many frames of a place a sound may be, the
// likeliest first.
func (t *tracker) matches(m *onset.Matcher, at, within float64) []onset.Match {
	const most = 5 // more than a beat has sounds
	before, after := m.Span()
	x, first := t.buffer.span(int64(at)-int64(before), int64(at)+int64(after)+1)
	return m.FindSeveral(x, first, at, within, sameSound*t.model.rate, most)
}

// whole is a matcher for all sounds of a side's beat.
type whole struct {
	*onset.Matcher
	beats int // laid over each other when it was made
}

// wholeBeat returns a matcher for all of a side's sounds, as they were last
// heard, or else learned: of so many beats that the noise in their mean matters
// less than they do.
func (t *tracker) wholeBeat(v int) *onset.Matcher {
	const few = 4
	w := &t.wholes[v]
	have := t.stacks.Beats(v)
	snr := max(t.snrs[v].median(), 1)
	fresh := 1 // where the lift grows fast, what was heard ten beats ago is another sound
	if snr < surelySNR {
		fresh = 8 // beats that are not in place are many, and the noise in the mean blurs more
	}
	if w.Matcher != nil && have < w.beats+fresh {
		return w.Matcher
	}
	learned := t.model.templates[v]
	beats := max(few, int(float64(t.stacks.Pre)/(snr*snr)))
	sound, of, origin := t.stacks.Latest(v, beats)
	if have < beats {
		sound, of, origin = learned.average.Mean(), learned.average.N, learned.mark
	}
	w.Matcher, w.beats = onset.NewMatcher(t.model.shaping, sound, of, origin, int(t.model.reach())+1), have
	return w.Matcher
}

// holds reports whether the buffer holds the sound of a beat marked at a frame.
func (t *tracker) holds(at float64) bool {
	return at-t.model.before >= float64(t.buffer.first) && at+t.model.after <= float64(t.buffer.last)
}

// inPlace tells whether the next few beats from n on, or else most of the next
// ones, are where k, which is at n, expects them; the ones before, where k goes
// backwards. It moves k along.
func (t *tracker) inPlace(k *kalman, n int64) bool {
	ok, _ := t.inPlaceScore(k, n)
	return ok
}

// inPlaceScore also returns how clearly: the mean signal-to-noise ratio.
func (t *tracker) inPlaceScore(k *kalman, n int64) (bool, float64) {
	hits, tries, score := 0, 0, 0.0
	for i := range ahead {
		if i == first && hits == first {
			break // another mishap may follow close behind
		}
		v := t.sideOf(n)
		due, _ := k.expect(v)
		if !t.holds(due) {
			break
		}
		var p place
		ok, silenced := false, t.silenced(due)
		if !silenced {
			p, _, ok = t.look(k, n)
		}
		if ok {
			k.update(v, p.at)
			score += p.snr
			hits++
		}
		if ok || !silenced && t.audible(v) {
			tries++
		}
		if tries-hits > ahead-enough {
			return false, 0 // the rest can't mend that
		}
		k.step(1)
		n += k.order()
	}
	return tries > 0 && hits*ahead >= enough*tries, score / float64(max(1, tries))
}
