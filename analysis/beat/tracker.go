package beat

import (
	"fmt"
	"math"
	"slices"
)

// How the tracker judges, in numbers.
const (
	leastSNR   = 3.8  // a match weaker than this is not told from the room
	audibleSNR = 6.5  // a beat this far above the room will be heard
	ahead      = 7    // beats looked at to tell a displaced beat from a displaced movement
	enough     = 5    // of them, how many must be in place
	first      = 3    // or how many of the first
	jitters    = 5    // a shift of more than so many jitters is an event …
	leastShift = 1e-3 // … if it is of more than so many seconds
)

// tracker follows a movement beat by beat. It needs of the recording no more
// than from the last beat heard to the next few, but for a search after one
// that did not come.
type tracker struct {
	tape  *tape
	ear   *ear
	clock func(frame float64) float64
	out   *Batch
	clip  func(ev Event, samples []float32, start float64) // nil, or as Options.Clip

	k     *kalman // expects beat number next; nil while no beat is followed
	next  int64
	last  float64 // mark of the last beat heard, frames; -1 before the first
	lost  *kalman // the state at beat next−1, while k is nil and there was one
	sides int64   // beat n sounds with voice (n + sides) mod 2
	first int     // voice of the first beat heard, which is called the tick
	tried int64   // beats after lost in which it was looked for in its old place
	from  float64 // where a search for the next beat begins, frames

	clipped   int64   // beats that reach full scale
	surveyed  float64 // frame up to which the movement was looked for anew
	surveys   int     // how often since it was lost
	relearned bool    // the ear is new, and its voices are yet to be matched with the sides

	levels    [2]running // energies of either voice's beats
	snrs      [2]running // signal-to-noise ratios of their matches
	room      running    // energy of the room between beats
	roughs    [2]running // levels at a glance
	roughRoom running    // room at a glance
	missing   *Event     // a run of beats not heard, so far
	shapes    *shapes
}

// place is a beat found.
type place struct {
	at  float64 // mark, frames
	snr float64
}

// voiceOf returns which voice beat n sounds with.
func (t *tracker) voiceOf(n int64) int { return int((n + t.sides) & 1) }

// side returns the side of beat next.
func (t *tracker) side() Side { return Side(t.voiceOf(t.next) ^ t.first) }

// find looks for a beat of one voice within within frames of at.
func (t *tracker) find(v int, at, within float64) (place, bool) {
	voice := t.ear.voice[v]
	before, after := voice.matcher.Span()
	x, first := t.tape.span(int64(at)-int64(before), int64(at)+int64(after)+1)
	m, ok := voice.matcher.Find(x, first, at, within)
	if !ok {
		return place{}, false
	}
	p := place{m.Frame, m.SNR}
	switch {
	case m.SNR < leastSNR*t.louder():
		return p, false
	case t.snrs[v].n > 10 && m.SNR < 0.25*t.snrs[v].median():
		return p, false // beats vary in loudness, but not by that much
	}
	return p, m.Rho >= voice.rho
}

// glance looks for a beat of one voice within three standard deviations of where
// it is due. If one as clear as usual is there, there is no need to look
// farther.
func (t *tracker) glance(v int, due, sd float64) (place, bool) {
	within := int(3*sd) + 3
	matcher := t.ear.voice[v].matcher
	before, after := matcher.SpanNear(within)
	x, first := t.tape.span(int64(due)-int64(before), int64(due)+int64(after)+1)
	m, ok := matcher.Near(x, first, due, within)
	if !ok {
		return place{}, false
	}
	usual := t.snrs[v].median()
	clear := m.SNR > 2*leastSNR*t.louder() && m.SNR > 0.5*usual && m.SNR < 2*usual
	return place{m.Frame, m.SNR}, clear
}

// louder is by what factor, in amplitude, the room is louder than when the ear
// learned its sounds.
func (t *tracker) louder() float64 {
	if t.room.n < 5 || t.ear.floor <= 0 {
		return 1
	}
	return max(1e-3, math.Sqrt(t.room.median()/t.ear.floor))
}

// audible tells whether the beats of a voice will be heard in the room as it is.
func (t *tracker) audible(v int) bool {
	snr := t.ear.voice[v].snr
	if t.snrs[v].n > 5 {
		snr = t.snrs[v].median()
	}
	return snr >= audibleSNR*t.louder()
}

// bound is by how many frames a beat must be displaced to count as an event.
func (t *tracker) bound(k *kalman) float64 {
	return max(jitters*k.sigma, leastShift*t.ear.rate)
}

// look looks for beat n where k, which is at it, expects it. It returns where
// that is, too.
func (t *tracker) look(k *kalman, n int64) (p place, due float64, ok bool) {
	v := t.voiceOf(n)
	due, sd := k.expect(v)
	if p, ok := t.glance(v, due, sd); ok {
		return p, due, true
	}
	p, ok = t.find(v, due, max(8*sd, t.bound(k)))
	return p, due, ok && math.Abs(p.at-due) <= max(4*sd, t.bound(k))
}

// run follows the movement as far as the tape allows.
func (t *tracker) run() {
	for {
		if t.k == nil {
			if !t.search() {
				return
			}
			continue
		}
		due, sd := t.k.expect(t.voiceOf(t.next))
		if !t.tape.ended && float64(t.tape.last) < due+t.lookahead() {
			return
		}
		if due+t.ear.after > float64(t.tape.last) {
			return
		}
		if p, _, ok := t.look(t.k, t.next); ok {
			t.k.update(t.voiceOf(t.next), p.at)
			t.heard(p)
		} else {
			t.puzzle(due, sd)
		}
	}
}

// lookahead is how many frames of tape beyond a beat it takes to judge it.
func (t *tracker) lookahead() float64 {
	return float64(ahead+2)*t.ear.period/2 + t.ear.after
}

// puzzle decides what became of a beat that is not where it was due.
func (t *tracker) puzzle(due, sd float64) {
	v := t.voiceOf(t.next)
	if !t.audible(0) && !t.audible(1) && sd < t.ear.period/20 {
		t.unheard(due) // nothing can be told until the room is quieter
		return
	}
	k := *t.k
	k.step(1)
	if t.inPlace(&k, t.next+1) {
		// Only this beat: displaced alone, or not heard.
		wide := min(0.006*t.ear.rate, t.ear.period/10)
		if p, ok := t.find(v, due, wide); ok {
			t.heard(p)
		} else {
			t.unheard(due)
		}
		return
	}
	t.k.step(-1)
	t.lost, t.k, t.tried, t.surveys = t.k, nil, 0, 0
	t.from = t.last + 0.2*t.ear.period
}

// inPlace tells whether the next few beats from n on, or else most of the next
// ones, are where k, which is at n, expects them. It moves k along.
func (t *tracker) inPlace(k *kalman, n int64) bool {
	ok, _ := t.inPlaceScore(k, n)
	return ok
}

// inPlaceScore also returns how clearly: the sum of the signal-to-noise ratios.
func (t *tracker) inPlaceScore(k *kalman, n int64) (bool, float64) {
	hits, tries, score := 0, 0, 0.0
	for i := range ahead {
		if i == first && hits == first {
			break // another mishap may follow close behind
		}
		v := t.voiceOf(n)
		due, _ := k.expect(v)
		if due+t.ear.after > float64(t.tape.last) {
			break
		}
		p, _, ok := t.look(k, n)
		if ok {
			k.update(v, p.at)
			score += p.snr
		}
		if ok || t.audible(v) {
			tries++
		}
		if ok {
			hits++
		}
		k.step(1)
		n++
	}
	return tries > 0 && hits*ahead >= enough*tries, score
}

// heard takes beat next as heard at p, and moves on.
func (t *tracker) heard(p place) {
	v := t.voiceOf(t.next)
	t.endMissing(p.at)
	e := t.listen(v, p.at)
	t.listenBetween(p.at)
	t.snrs[v].add(p.snr)
	t.out.Beats = append(t.out.Beats, Beat{
		Index: t.next, Time: t.clock(p.at), Side: t.side(), Heard: true, Level: decibels(e),
	})
	if t.shapes != nil {
		t.shapes.add(t, v, p.at)
	}
	t.last = p.at
	t.advance()
}

// unheard takes beat next as not heard, though due, and moves on.
func (t *tracker) unheard(due float64) {
	kind := t.reason(due)
	if t.missing != nil && t.missing.Kind != kind {
		t.endMissing(due)
	}
	if t.missing == nil {
		t.missing = &Event{Kind: kind, Beat: t.next, Start: t.clock(due)}
	}
	t.missing.End = t.clock(due)
	t.out.Beats = append(t.out.Beats, Beat{Index: t.next, Time: t.clock(due), Side: t.side()})
	t.advance()
}

func (t *tracker) advance() {
	t.k.step(1)
	t.next++
	t.tape.forget(int64(t.last - t.ear.before))
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
	if t.clip != nil {
		around := clipSeconds / 2 * t.ear.rate
		if x, from := t.tape.span(int64(at-around), int64(at+around)); len(x) > 0 {
			t.clip(ev, x, t.clock(float64(from)))
		}
	}
}

// clipSeconds is how much of the sound around an event is handed out.
const clipSeconds = 4

// reason tells why a beat due at a place was not heard.
func (t *tracker) reason(due float64) Kind {
	e := slices.Clone(t.tape.energies(t.tape.blocks(due-0.02*t.ear.rate, due+0.02*t.ear.rate)))
	if len(e) == 0 {
		return Masked
	}
	slices.Sort(e)
	loud := float64(e[len(e)/2])
	v := t.voiceOf(t.next)
	switch {
	case loud == 0:
		return Gap
	case !t.audible(v), loud > 0.15*t.levels[v].median():
		return Masked
	case t.snrs[v].median() < 1.4*leastSNR*math.Sqrt(loud/t.ear.floor):
		return Masked
	}
	return Missed
}

// finish ends the run where the tape ends.
func (t *tracker) finish() {
	end := float64(t.tape.last)
	if t.k == nil && t.last >= 0 && end-t.last > t.stopAfter() {
		t.endMissing(t.last)
		a, b := t.clock(t.last), t.clock(end)
		t.event(Event{Kind: Stop, Beat: t.next - 1, Start: a, End: b, Shift: b - a - t.interval(), Note: "to the end of the recording"}, t.last)
	}
	t.endMissing(end)
	if t.shapes != nil {
		t.shapes.flush(t)
	}
}

// problems says what was wrong with the sound.
func (t *tracker) problems() []string {
	var out []string
	if t.clipped*100 > t.next {
		out = append(out, fmt.Sprintf("%d of %d beats reach full scale: lower the recording level.", t.clipped, t.next))
	}
	if level := max(t.levels[0].median(), t.levels[1].median()); level > 0 && level < 1e-7 {
		out = append(out, fmt.Sprintf("The beats are very quiet, %.0f dBFS: raise the recording level.", decibels(level)))
	}
	return out
}

// interval is the beat interval in true seconds.
func (t *tracker) interval() float64 {
	return t.clock(t.last+t.ear.period/2) - t.clock(t.last)
}

// stopAfter is how many frames without a beat make a stop.
func (t *tracker) stopAfter() float64 { return max(1.5*t.ear.period, t.ear.rate) }

func decibels(energy float64) float64 {
	return 10 * math.Log10(max(energy, 1e-20))
}
