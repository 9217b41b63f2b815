package beat

import (
	"fmt"
	"math"
	"slices"

	"rundown/analysis/contacts"
	"rundown/analysis/recorder"
)

// How the tracker judges, in numbers.
const (
	leastSNR   = 3.8  // a match weaker than this is not told from the room
	faintSNR   = 3    // but so strong, in its place between others that are in theirs: in a few lags, noise is once in a hundred places
	audibleSNR = 6.5  // a beat this far above the room will be heard
	ahead      = 7    // beats looked at to tell a displaced beat from a displaced movement
	enough     = 5    // of them, how many must be in place
	first      = 3    // or how many of the first
	jitters    = 5    // a shift of more than so many jitters is an event …
	leastShift = 1e-3 // … if it is of more than so many seconds
	fadingSNR  = 7.5  // beats of a side that is usually weaker than that may go unheard without a reason of their own
	weakest    = 0.25 // beats vary in loudness, but none is weaker than so much of the usual one
	asUsual    = 0.7  // a match between so much of the usual one and the inverse of it is as clear as usual
	asLikely   = 0.8  // a match in place is taken rather than one elsewhere that is no clearer than the inverse of that: beats vary by 2 dB (common practice)
	sameSound  = 1e-3 // seconds within which two matches are of one sound of a beat: the sounds are farther apart
)

// tracker follows a movement beat by beat. It needs of the recording no more
// than from the last beat heard to the next few, but for a search after one
// that did not come.
type tracker struct {
	buffer *sampleBuffer
	model  *soundModel
	zeros  *recorder.Zeros
	clock  func(frame float64) float64
	out    *Batch
	clip   func(ev Event, samples []float32, start float64) // nil, or as Options.Clip

	k     *kalman // expects beat number next; nil while no beat is followed
	next  int64
	last  float64      // mark of the last beat heard, frames; -1 before the first
	given float64      // place of the last beat given out, heard or not, frames; -1 before the first
	lost  *kalman      // the state at beat next−1, while k is nil and there was one
	setIn [2][]float32 // how suddenly sound set in about the last beats of either side before it was lost
	sides int64        // beat n sounds with side (n + sides) mod 2
	first int          // side of the first beat heard, which is called the tick
	tried int64        // beats after lost in which it was looked for in its old place
	from  float64      // where a search for the next beat begins, frames

	again     bool    // beats are taken again that were found going back: in a louder room than they were learned in, their sound says little
	clipped   int64   // beats that reach full scale
	faded     int64   // beats too faint to be heard
	surveyed  float64 // frame up to which the movement was looked for anew
	surveys   int     // how often since it was lost
	relearned bool    // the model is new, and its templates are yet to be matched with the sides

	levels    [2]running       // energies of either side's beats
	snrs      [2]running       // signal-to-noise ratios of their matches
	room      running          // energy of the room between beats
	roughs    [2]running       // levels at a glance
	centres   [2]running       // of what sounds about either side's beats, frames after the mark
	roughRoom running          // room at a glance
	seconds   []recorder.Level // from frame origin on, of so many frames each
	hits      []uint8          // beats heard in each
	origin    int64
	second    int
	missing   *Event // a run of beats not heard, so far
	lull      lull   // a run of beats each of which may have been too faint, so far
	stacks    *contacts.Stacker
	wholes    [2]whole
	sounds    []sound // between beats, not judged yet
	rival     rival
	idle      int // batches of sounds that are not searched for a rival yet
	patience  int
	since     int64    // first beat found by this model
	before    []Sounds // of models before it
}

// lift is how much of the period the sounds of a beat may lie before or after its
// mark: what the lift takes shortly before a pendulum stops, and liftBalance before a
// balance does, which swings on with less (common practice).
const (
	lift        = 0.12
	liftBalance = 0.17
)

// displacedAlone is by what part of the period a beat may seem displaced alone: where
// another of its sounds is taken for the one that marks it. No oscillator displaces one
// beat and not the next.
const displacedAlone = 0.03

func newTracker(buffer *sampleBuffer, e *soundModel, f *follower) *tracker {
	return &tracker{
		buffer: buffer, model: e, zeros: f.zeros[f.channel], clock: f.opt.Clock, out: &f.batch, last: -1, given: -1, clip: f.opt.Clip,
		stacks: e.newStacks(), origin: f.first, second: f.second(),
	}
}

// longestLift returns for how many frames a lift lasts at the most.
func (e *soundModel) longestLift() float64 {
	if e.period < contacts.SlowestBalance*e.rate {
		return liftBalance * e.period
	}
	return lift * e.period
}

// newStacks returns what lays the beats that a model finds over each other.
func (e *soundModel) newStacks() *contacts.Stacker {
	reach := int(e.longestLift() + 0.003*e.rate)
	return contacts.NewStacker(reach, reach)
}

// place is a beat found.
type place struct {
	at  float64 // mark, frames
	snr float64
}

// sideOf returns which side beat n sounds with.
func (t *tracker) sideOf(n int64) int { return int((n + t.sides) & 1) }

// side returns the side of beat next.
func (t *tracker) side() Side { return Side(t.sideOf(t.next) ^ t.first) }

// find looks for a beat of one side within within frames of at.
func (t *tracker) find(v int, at, within float64) (place, bool) {
	own := t.model.templates[v]
	before, after := own.matcher.Span()
	x, first := t.buffer.span(int64(at)-int64(before), int64(at)+int64(after)+1)
	m, ok := own.matcher.Find(x, first, at, within)
	if !ok {
		return place{}, false
	}
	p := place{m.Frame, m.SNR}
	switch {
	case m.SNR < leastSNR*t.louder():
		return p, false
	case t.snrs[v].n > 10 && m.SNR < weakest*t.snrs[v].median():
		return p, false
	}
	// The fainter the beat, the less is it like its template for what the room adds.
	return p, m.Rho >= own.rho || m.Rest < masking*t.louder()*t.louder()
}

// match looks for a beat of one side about where it is due, and farther than
// it may be late by a hesitation that is hard to see; if the last beat strayed, it may be
// as much later. If one as clear as usual is
// there, and in its place, there is no need to look farther.
func (t *tracker) match(v int, due, sd, also float64) (place, bool) {
	within := int(max(3*sd+3, 0.0012*t.model.rate, math.Abs(also)+3*sd+3))
	matcher := t.model.templates[v].matcher
	before, after := matcher.SpanNear(within)
	x, first := t.buffer.span(int64(due)-int64(before), int64(due)+int64(after)+1)
	// What no beat has as its template does is noise as well, and grows with it.
	noise, usual := t.louder(), t.usual(v)
	m, ok := matcher.Likeliest(x, first, due, sd, also, within, math.Hypot(noise, t.model.templates[v].unlike*usual))
	if !ok {
		return place{}, false
	}
	clear := m.SNR > 2*leastSNR*noise && m.SNR > asUsual*usual && m.SNR < usual/asUsual && min(math.Abs(m.Frame-due), math.Abs(m.Frame-due-also)) < 4*sd
	return place{m.Frame, m.SNR}, clear
}

// louder is by what factor, in amplitude, the room is louder than when the model
// learned its sounds.
func (t *tracker) louder() float64 {
	if t.room.n < 5 || t.model.floor <= 0 {
		return 1
	}
	return max(1e-3, math.Sqrt(t.room.median()/t.model.floor))
}

// burst is louder for the room just before the last beat, where that is plainly louder than the
// room is: 0 where it is not.
func (t *tracker) burst() float64 {
	now := t.room.latest()
	if t.model.floor <= 0 || now <= masking*t.room.median() {
		return 0
	}
	return math.Sqrt(now / t.model.floor)
}

// usual is the signal-to-noise ratio that beats of a side have had of late, or
// else had where they were learned.
func (t *tracker) usual(v int) float64 {
	if t.snrs[v].n > 5 {
		return t.snrs[v].median()
	}
	return t.model.templates[v].snr
}

// audible tells whether the beats of a side will be heard in the room as it is: by their clearest
// sound, or by all of them together.
func (t *tracker) audible(v int) bool {
	least := audibleSNR * t.louder()
	return t.usual(v) >= least || t.wholeBeat(v).SNR() >= least
}

// bound is by how many frames a beat must be displaced to count as an event.
func (t *tracker) bound(k *kalman) float64 {
	return max(jitters*k.sigma, leastShift*t.model.rate)
}

// look looks for beat n where k, which is at it, expects it. It returns where
// that is, too.
func (t *tracker) look(k *kalman, n int64) (p place, due float64, ok bool) {
	v := t.sideOf(n)
	due, sd := k.expect(v)
	if p, ok = t.match(v, due, sd, k.stray); ok {
		return p, due, true
	}
	usual := t.usual(v)
	if usual < fadingSNR && t.usual(1-v) > fadingSNR {
		// The other side tells where the movement is; farther off, noise and the
		// other sounds of the beat are as likely.
		return p, due, p.snr > leastSNR*t.louder() && math.Abs(p.at-due) < 4*sd
	}
	if usual < fadingSNR && t.wholeBeat(v).SNR() < fadingSNR {
		return t.nearDue(k, v, due, sd)
	}
	near, least := sameSound*t.model.rate, max(leastSNR*t.louder(), 0.4*t.snrs[v].median())
	// Its clearest sound is found at a tenth of what all of them take.
	if q, _ := t.find(v, due, max(near, 4*sd)+near/16); q.snr > 0 && q.snr < least && t.snrs[v].n > 5 {
		return p, due, false
	}
	// Another sound of a beat that is displaced may have come here: all of them
	// together tell.
	ms := t.matches(t.wholeBeat(v), due, t.model.reach())
	if len(ms) == 0 { // too near an end of the recording for that
		return t.nearDue(k, v, due, sd)
	}
	for i, m := range ms {
		off := math.Abs(m.Frame - due)
		inPlace := off < 4*sd && m.SNR >= asLikely*ms[0].SNR
		if !inPlace && (i > 0 || off > max(near, 3*sd)) { // where another is likelier, the beats that follow tell
			continue
		}
		// Where a hesitation is shorter than the sound rings, what is due is not what
		// is likest; and where the beat error grows fast, little is heard where it is due.
		if p, _ = t.match(v, due, sd, k.stray); off >= 4*sd || math.Abs(p.at-due) >= 4*sd || p.snr <= least {
			p, _ = t.match(v, m.Frame, near/16, 0)
		}
		if p.snr > least {
			return p, due, true
		}
	}
	if t.snrs[v].n <= 5 { // what was learned from few beats is not known well yet
		p, due, ok = t.nearDue(k, v, due, sd)
		return p, due, ok && p.snr > asUsual*usual
	}
	return p, due, false
}

// nearDue looks for a beat by its clearest sound alone.
func (t *tracker) nearDue(k *kalman, v int, due, sd float64) (p place, at float64, ok bool) {
	p, ok = t.find(v, due, max(8*sd, t.bound(k)))
	return p, due, ok && math.Abs(p.at-due) <= max(4*sd, t.bound(k))
}

// run follows the movement as far as the buffer allows.
func (t *tracker) run() {
	for {
		if t.k == nil {
			if !t.search() {
				return
			}
			continue
		}
		if math.Abs(t.k.tau/(t.model.period/2)-1) > astray {
			t.forsake()
			continue
		}
		due, sd := t.k.expect(t.sideOf(t.next))
		if !t.buffer.ended && float64(t.buffer.last) < due+t.lookahead() {
			return
		}
		if due+t.model.after > float64(t.buffer.last) {
			return
		}
		if t.silenced(due) {
			t.pass(due, sd)
		} else if p, _, ok := t.look(t.k, t.next); ok {
			if k, q, other := t.another(t.k, t.next, due, p); other {
				t.suspected(due, q.at)
				t.k = k
				t.heard(q)
				continue
			}
			if math.Abs(p.at-due) > suspect*sd {
				t.suspected(due, p.at)
			}
			t.k.update(t.sideOf(t.next), p.at)
			t.heard(p)
		} else {
			t.explain(due, sd)
		}
	}
}

// lookahead is how many frames of buffer beyond a beat it takes to judge it.
func (t *tracker) lookahead() float64 {
	return float64(ahead+2)*t.model.period/2 + t.model.after
}

// silenced tells whether the recorder wrote zeros in place of the sound that marks a
// beat due at a place.
func (t *tracker) silenced(due float64) bool {
	ms := t.model.rate / 1000
	return t.zeros.Among(due-ms, due+4*ms) > 0
}

// pass passes over a beat that zeros hide, as long as its place is known.
func (t *tracker) pass(due, sd float64) {
	if sd < t.model.period/20 {
		t.unheard(due)
	} else {
		t.lose()
	}
}

// lose gives the movement up where it was expected, to look for it onward.
func (t *tracker) lose() {
	t.k.step(-1)
	t.lost, t.k, t.tried, t.surveys = t.k, nil, 0, 0
	k := *t.lost
	for n := t.next - 1; n > t.next-3; n-- {
		mark, _ := k.expect(t.sideOf(n))
		t.setIn[t.sideOf(n)] = t.rises(mark, t.model.reach())
		k.step(-1)
	}
	t.from = t.given + 0.2*t.model.period
}

// astray is by what part of itself no movement's interval ever changes.
const astray = 0.1

// forsake gives up a state that is none of a movement's, to look for it onward.
func (t *tracker) forsake() {
	t.k = t.start(t.sideOf(t.next-1), t.given)
	t.k.step(1)
	t.lose()
}

// tooSoon reports whether a place is no beat's: before the last one's, or less than a
// quarter of an interval after it. No two sides are so far out of beat.
func (t *tracker) tooSoon(at float64) bool {
	return at <= t.given || t.last >= 0 && at < t.last+t.model.period/8
}

// heard takes beat next as heard at p, and moves on.
func (t *tracker) heard(p place) {
	if t.tooSoon(p.at) {
		t.forsake()
		return
	}
	v := t.sideOf(t.next)
	t.endMissing(p.at)
	t.lull = lull{}
	e := t.takeLevel(v, p.at)
	t.observeBetween(p.at)
	t.snrs[v].add(p.snr)
	t.centres[v].add(t.centre(p.at))
	at := t.clock(p.at)
	t.out.Beats = append(t.out.Beats, Beat{
		Index: t.next, Time: at, Side: t.side(), Heard: true, Level: decibels(e),
		SE: (t.clock(p.at+1) - at) * t.model.templates[v].blur / max(p.snr/max(t.louder(), t.burst()), 1),
	})
	t.stack(v, p)
	for i := t.secondOf(p.at); len(t.hits) <= i; {
		t.hits = append(t.hits, 0)
	}
	t.hits[t.secondOf(p.at)]++
	t.last, t.given = p.at, p.at
	t.advance()
}

// stack lays a beat of a side over the others of the run.
func (t *tracker) stack(v int, p place) {
	if t.again && max(t.louder(), t.burst()) > math.Sqrt(masking) || !t.stacks.Wants(v, t.snrs[v].median()) {
		return
	}
	from := int64(math.Floor(p.at)) - int64(t.stacks.Pre)
	x, first := t.buffer.span(from, from+int64(t.stacks.Pre+t.stacks.Post))
	if first == from && len(x) == t.stacks.Pre+t.stacks.Post {
		t.stacks.Add(v, p.at, x)
	}
}

// unheard takes beat next as not heard, though due, and moves on.
func (t *tracker) unheard(due float64) {
	due = max(due, t.given+1) // where it is only reckoned from what is known badly
	t.given = due
	kind := t.reason(due)
	if kind == "" && t.missing != nil && t.missing.Kind == Missed {
		kind = Missed // one side alone is so faint, and the other was not heard either
	}
	if t.missing != nil && t.missing.Kind != kind {
		t.endMissing(due)
	}
	if kind != "" {
		t.lull = lull{}
	} else if t.lull.add(t.next, t.clock(due), t.usual(t.sideOf(t.next))/t.louder()); t.lull.odds < -silentOdds {
		kind = Missed // one of them may be too faint, but not so many
		t.faded -= t.lull.beats - 1
		t.missing = &Event{Kind: Missed, Beat: t.lull.first, Start: t.lull.start}
	}
	switch {
	case kind == "":
		t.faded++
	case t.missing == nil:
		t.missing = &Event{Kind: kind, Beat: t.next, Start: t.clock(due), End: t.clock(due)}
	default:
		t.missing.End = t.clock(due)
	}
	if kind != Gap {
		t.observeBefore(due)
	}
	t.out.Beats = append(t.out.Beats, Beat{Index: t.next, Time: t.clock(due), Side: t.side()})
	t.advance()
}

func (t *tracker) advance() {
	t.k.step(1)
	t.next++
	// The last beat of either side, and what sounds before it, is compared with the next ones.
	t.buffer.forget(int64(t.last-max(t.model.before, t.model.period)) - int64(t.stacks.Pre) - 1)
}

// endMissing closes a run of beats not heard.
func (t *tracker) endMissing(at float64) {
	if t.missing != nil {
		t.event(*t.missing, at)
		t.missing = nil
	}
}

// event records an event, at a frame about which it can be listened to.
func (t *tracker) event(ev Event, at float64) {
	t.out.Events = append(t.out.Events, ev)
	t.clipAround(ev, at)
}

// clipAround hands out the sound about a frame for an event.
func (t *tracker) clipAround(ev Event, at float64) {
	if t.clip != nil {
		around := clipSeconds / 2 * t.model.rate
		if x, from := t.buffer.span(int64(at-around), int64(at+around)); len(x) > 0 {
			t.clip(ev, x, t.clock(float64(from)))
		}
	}
}

// suspect is by how many standard deviations a beat is out of its place from which
// its sound is worth keeping: whether it was displaced for good is told at the
// end.
const suspect = 5

// suspected hands out the sound about a beat that may be late or early.
func (t *tracker) suspected(due, at float64) {
	if t.clip == nil {
		return
	}
	around := clipSeconds / 2 * t.model.rate
	if x, from := t.buffer.span(int64(at-around), int64(at+around)); len(x) > 0 {
		a, b := t.clock(due), t.clock(at)
		t.clip(Event{Kind: Late, Beat: t.next, Start: min(a, b), End: max(a, b), Shift: b - a}, x, t.clock(float64(from)))
	}
}

// clipSeconds is how much of the sound around an event is handed out.
const clipSeconds = 4

// reason tells why a beat due at a place was not heard; "" where beats of its side
// are too faint for each to be heard.
func (t *tracker) reason(due float64) Kind {
	if t.zeros.Among(due-t.model.lead, due+t.model.tail) > 0 {
		return Gap
	}
	e := slices.Clone(t.buffer.energies(t.buffer.blocks(due-0.02*t.model.rate, due+0.02*t.model.rate)))
	if len(e) == 0 {
		return Masked
	}
	slices.Sort(e)
	loud := float64(e[len(e)/4]) // the beat itself may sound for half of that time
	switch usual := t.snrs[t.sideOf(t.next)].median(); {
	case loud > masking*t.model.floor || t.room.n > 0 && loud > masking*t.room.median():
		return Masked
	case usual < surelySNR*t.louder():
		return ""
	}
	return Missed
}

// lull is a run of beats not heard.
type lull struct {
	first int64   // the first of them
	start float64 // when that was due, true seconds
	beats int64
	odds  float64 // natural logarithm of the probability that all of them are too faint
}

// silentOdds is the natural logarithm of the odds against all beats of a run being too faint
// from which on they made no sound: 9 million to one, so that of 36 000 beats an hour not
// one run in ten days is taken for one.
const silentOdds = 16

// add takes in a beat that was due at a true time in seconds, of a side whose beats usually
// have a signal-to-noise ratio. They vary by 2 dB (common practice), and the ratio itself by
// one.
func (q *lull) add(beat int64, due, usual float64) {
	if q.beats == 0 {
		q.first, q.start = beat, due
	}
	q.beats++
	varies := math.Hypot(1, usual*2*math.Ln10/20)
	q.odds += math.Log(math.Erfc((usual-leastSNR)/varies/math.Sqrt2) / 2)
}

// surelySNR is the usual signal-to-noise ratio of a side's beats from which on one that is
// not heard made no sound: beats vary by 2 dB (common practice), and one in two hundred
// thousand is then weaker than leastSNR, which is less than one in ten hours.
const surelySNR = 10.5

// masking is by how much, in power, the room is louder about a beat than usual
// where that is why the beat was not heard, or why what was heard is no beat: 6 dB.
const masking = 4

// finish ends the run where the buffer ends.
func (t *tracker) finish() {
	end := float64(t.buffer.last)
	if t.k == nil && t.last >= 0 && end-t.last-t.zeros.Among(t.last, end) > t.stopAfter() {
		t.endMissing(t.last)
		t.event(t.silence(end), t.last)
	}
	t.endMissing(end)
	t.judgeSounds()
}

// ToTheEnd is the note of an event that ends with the recording.
const ToTheEnd = "to the end of the recording"

// silence says why no beat was heard from the last one to the end of the recording.
func (t *tracker) silence(end float64) Event {
	a, b := t.clock(t.last), t.clock(end)
	ev := Event{Kind: Stop, Beat: t.next - 1, Start: a, End: b, Shift: b - t.clock(t.last+t.model.period/2), Note: ToTheEnd}
	switch alike, louder, quieter := t.roomSince(t.last); {
	case alike >= stillSeconds:
	case louder > alike+quieter:
		ev = Event{Kind: Masked, Beat: t.next, Start: a, End: b, Note: ToTheEnd}
	case quieter > alike+louder:
		ev = Event{Kind: Gap, Beat: t.next, Start: a, End: b, Note: "the recorder took up far less of the room from here on"}
	}
	return ev
}

// stillSeconds is for how long, in all, the room has to be as it was for a movement
// that is not heard to stand still.
const stillSeconds = 3

// secondOf returns in which of the seconds a frame is.
func (t *tracker) secondOf(frame float64) int {
	return max(0, int((frame-float64(t.origin))/float64(t.second)))
}

// roomSince counts the seconds after a frame in which the room was as loud as when most
// beats were heard last, within 6 dB, and those in which it was louder or quieter.
func (t *tracker) roomSince(frame float64) (alike, louder, quieter int) {
	const enough = 20
	at := t.secondOf(frame)
	var before []float32
	for i := min(at, len(t.seconds), len(t.hits)) - 1; i >= 0 && len(before) < enough; i-- {
		if float64(t.hits[i])*t.model.period > float64(t.second) { // half of its beats
			before = append(before, t.seconds[i].Quiet)
		}
	}
	if len(before) == 0 {
		return stillSeconds, 0, 0
	}
	slices.Sort(before)
	usual := before[len(before)/2]
	for _, l := range t.seconds[min(at+1, len(t.seconds)):] {
		switch {
		case l.Quiet > masking*usual:
			louder++
		case l.Quiet < usual/masking:
			quieter++
		default:
			alike++
		}
	}
	return alike, louder, quieter
}

// models returns all sounds by which beats were found.
func (t *tracker) models() []Sounds {
	return append(t.before, Sounds{From: t.since, Stacks: t.stacks, Tick: t.first, Room: t.model.shaping.Room})
}

// problems says what was wrong with the sound.
func (t *tracker) problems() []string {
	var out []string
	if s := t.rivalProblem(); s != "" {
		out = append(out, s)
	}
	if t.clipped*100 > t.next {
		out = append(out, fmt.Sprintf("%d of %d beats reach full scale: lower the recording level.", t.clipped, t.next))
	}
	if t.faded > 0 {
		out = append(out, fmt.Sprintf("%d of %d beats were too faint to be heard in the room, most of them of one side: bring the microphone nearer.", t.faded, t.next))
	}
	if level := max(t.levels[0].median(), t.levels[1].median()); level > 0 && level < 1e-7 {
		out = append(out, fmt.Sprintf("The beats are very quiet, %.0f dBFS: raise the recording level.", decibels(level)))
	}
	return out
}

// stopAfter is how many frames without a beat make a stop.
func (t *tracker) stopAfter() float64 { return max(1.5*t.model.period, t.model.rate) }

func decibels(energy float64) float64 {
	return 10 * math.Log10(max(energy, 1e-20))
}
