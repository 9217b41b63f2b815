package beat

import (
	"math"
	"slices"

	"rundown/analysis/acquisition"
)

// takeLevel returns the energy of the loudest block of a beat of side v marked at
// a frame, and counts it if it reaches full scale.
func (t *tracker) takeLevel(v int, at float64) float64 {
	lead, tail := t.extent()
	a, b := t.buffer.blocks(at-lead, at+min(tail, 0.02*t.model.rate))
	rough := t.buffer.rough[a:b]
	if len(rough) == 0 {
		return 0
	}
	t.roughs[v].add(float64(slices.Max(rough)))
	first, last := loudAmong(rough)
	_, e := t.loudest(a+first, a+last)
	t.levels[v].add(e)
	if e > 1e-3 && t.full(a+first, a+last) {
		t.clipped++
	}
	return e
}

// loudAmong returns the first and the one after the last of the blocks that are
// loud at a glance. The loudest one is among them, or beside one.
func loudAmong(rough []float32) (first, last int) {
	most := slices.Max(rough)
	loud := func(e float32) bool { return e >= most/2 }
	first, last = slices.IndexFunc(rough, loud), len(rough)
	for !loud(rough[last-1]) {
		last--
	}
	return first, last
}

// loudest returns the block of most energy among the buffer's blocks from a to b
// and those beside them, and its energy.
func (t *tracker) loudest(a, b int) (block int, energy float64) {
	a, b = max(0, a-1), min(len(t.buffer.rough), b+1)
	for i, e := range t.buffer.energies(a, b) {
		if float64(e) > energy {
			block, energy = a+i, float64(e)
		}
	}
	return block, energy
}

// extent is how many frames before its mark a beat begins to sound, and after it
// ends.
func (t *tracker) extent() (lead, tail float64) {
	widest := 4. / 3 * lift * t.model.period
	return max(t.model.lead, widest), max(t.model.tail, widest)
}

// full tells whether the sound of the buffer's blocks from a to b reaches full
// scale.
func (t *tracker) full(a, b int) bool {
	x, _ := t.buffer.span(t.buffer.first+int64(a*t.buffer.block), t.buffer.first+int64(b*t.buffer.block))
	for _, v := range x {
		if v >= acquisition.FullScale || v <= -acquisition.FullScale {
			return true
		}
	}
	return false
}

// observeBetween takes the loudness of the room between the last beat and the one
// marked at a frame, and looks for extra sounds there.
func (t *tracker) observeBetween(at float64) {
	if t.last < 0 || at-t.last >= t.model.period {
		return
	}
	lead, tail := t.extent()
	a, b := t.buffer.blocks(t.last+tail, at-lead)
	if b-a <= 4 {
		return
	}
	rough := t.buffer.rough[a:b]
	quiet := lowerThird(rough)
	t.roughRoom.add(float64(rough[quiet]))
	// A glance is rough: what is a quarter as loud as the beats may seem to be
	// less, and a block of the room four times as loud as it is.
	around := math.Sqrt(t.roughs[0].median() * t.roughs[1].median())
	least := max(around/16, min(around/6, 5*t.roughRoom.median()))
	room := float64(t.buffer.energies(a+quiet, a+quiet+1)[0])
	if float64(slices.Max(rough)) > least {
		first, last := loudAmong(rough)
		t.extra(a+first, a+last, max(room, t.room.median()))
	}
	t.room.add(room)
}

// observeBefore takes the loudness of the room between a beat that was due but not
// heard and the one before it: where it is loud, that may end.
func (t *tracker) observeBefore(due float64) {
	if quiet, ok := t.quietest(due); ok {
		t.roughRoom.add(float64(t.buffer.rough[quiet]))
		t.room.add(float64(t.buffer.energies(quiet, quiet+1)[0]))
	}
}

// quietest returns the block that a third of those between the beat due at a frame and
// the one before it are quieter than; false where there is no room between them.
func (t *tracker) quietest(due float64) (block int, ok bool) {
	lead, tail := t.extent()
	a, b := t.buffer.blocks(due-t.model.period/2+tail, due-lead)
	if b-a <= 4 {
		return 0, false
	}
	return a + lowerThird(t.buffer.rough[a:b]), true
}

// observeAhead takes the loudness of the room from the beat due at a frame on where that
// is plainly another one than before: what is heard there is judged by what the room is
// like there, and not by what it was.
func (t *tracker) observeAhead(due float64) {
	var room, rough running
	for i := range ahead {
		if quiet, ok := t.quietest(due + float64(i+1)*t.model.period/2); ok {
			room.add(float64(t.buffer.energies(quiet, quiet+1)[0]))
			rough.add(float64(t.buffer.rough[quiet]))
		}
	}
	if now, usual := room.median(), t.room.median(); room.n > ahead/2 && (now > masking*usual || now < usual/masking) {
		t.room, t.roughRoom = room, rough
	}
}

// lowerThird returns the index of the value that a third of some thirty of the
// values lie below.
func lowerThird(x []float32) int {
	type sample struct {
		v float32
		i int
	}
	var some [32]sample
	n := 0
	for i := 0; i < len(x) && n < len(some); i += len(x)/len(some) + 1 {
		some[n] = sample{x[i], i}
		n++
	}
	slices.SortFunc(some[:n], func(a, b sample) int {
		switch {
		case a.v < b.v:
			return -1
		case a.v > b.v:
			return 1
		}
		return a.i - b.i
	})
	return some[n/3].i
}

// louderBeat is how many times as loud as usual, in power, one beat in two hundred thousand
// is, where they vary by 2 dB (common practice).
const louderBeat = 7.6

// extra takes a sound in the buffer's blocks from a to b, between two beats in place,
// which is an event of its own if it is no more than 6 dB weaker than they are, and
// stands out of a room of such energy, and of what that was like before the last beat and
// is like after the next one: where a loud room begins or ends, there is no sound of its
// own. It stands out of what rings on of the last beat, too.
func (t *tracker) extra(a, b int, room float64) {
	p, e := t.loudest(a, b)
	around := math.Sqrt(t.levels[0].median() * t.levels[1].median())
	frame := float64(t.buffer.first + int64(p*t.buffer.block))
	since := min(max(0, int((frame-t.last)/float64(t.buffer.block))), len(t.model.ringing)-1)
	left := louderBeat * around * t.model.ringing[since]
	if around == 0 || e < max(left, t.model.outstanding*max(room, t.room.latest())) {
		return
	}
	next, _ := t.k.expect(t.sideOf(t.next + 1))
	if quiet, ok := t.quietest(next + t.model.period/2); ok && e < t.model.outstanding*float64(t.buffer.energies(quiet, quiet+1)[0]) {
		return
	}
	if ms := t.model.rate / 1000; t.zeros.Among(frame-5*ms, frame+5*ms) > 0 {
		return // the cut itself sounds where zeros begin or end
	}
	s := sound{at: frame, level: decibels(e / around)}
	if e >= 0.25*around {
		s.extra = &Event{Kind: Extra, Beat: t.next - 1, Start: t.clock(frame), End: t.clock(frame)}
		t.clipAround(*s.extra, frame)
	}
	t.takeSound(s)
}
