package beat

import (
	"math"

	"rundown/dsp/onset"
)

// pattern returns a function that tells by how much the sounds of beat n, at which k is, and of
// the one after it set in where those of the same sides before them did, moved by so many frames:
// from 0 to 1. Whatever a contact sounds like, and however loud it is, its rise is there; and the
// lift changes by less than a block from one beat of a side to the next.
func (t *tracker) pattern(k *kalman, n int64, rises func(at, reach float64) []float32) func(by float64) float64 {
	reach := t.model.reach() + t.model.longestLift()
	var now, then [2][]float32
	for i := range now {
		v := t.sideOf(n + int64(i))
		after, before := *k, *k
		after.step(float64(i))
		before.step(float64(i - 2))
		due, _ := after.expect(v)
		mark, _ := before.expect(v)
		now[i], then[i] = rises(due, reach), rises(mark, reach)
	}
	return func(by float64) float64 {
		most := 0.0
		shift := int(math.Round(by / float64(t.model.block)))
		for d := shift - 1; d <= shift+1; d++ { // a block is not known to less
			most = max(most, coincide(then, now, d))
		}
		return most
	}
}

// rises returns how suddenly sound sets in at the blocks within reach frames of a place, nats;
// none where the buffer does not hold them.
func (t *tracker) rises(at, reach float64) []float32 {
	if !t.spans(at, reach) {
		return nil
	}
	e := t.buffer.energies(t.buffer.blocks(at-reach, at+reach))
	return t.risesOf(e, t.model.floor*t.louder()*t.louder())
}

// risesAtAGlance is rises by what is known of the loudness of blocks at a glance.
func (t *tracker) risesAtAGlance(at, reach float64) []float32 {
	if !t.spans(at, reach) {
		return nil
	}
	return t.risesOf(t.buffer.roughly(at-reach, at+reach), t.roughRoom.median())
}

// spans reports whether the buffer holds what is within reach frames of a place.
func (t *tracker) spans(at, reach float64) bool {
	return at-reach >= float64(t.buffer.first) && at+reach <= float64(t.buffer.last)
}

// risesOf returns how suddenly sound sets in at blocks of the given energies, in a room of another.
func (t *tracker) risesOf(e []float32, room float64) []float32 {
	floor := make([]float32, len(e))
	for i := range floor {
		floor[i] = float32(room)
	}
	return onset.StrengthAbove(nil, e, floor, t.model.perSecond())
}

// coincide returns the correlation coefficient, about zero, of rows of values and of later ones that
// are moved by so many places.
func coincide(then, now [2][]float32, by int) float64 {
	var both, a, b float64
	for i, x := range then {
		for j, v := range x {
			a += float64(v) * float64(v)
			if m := j + by; m >= 0 && m < len(now[i]) {
				b += float64(now[i][m]) * float64(now[i][m])
				both += float64(v) * float64(now[i][m])
			}
		}
	}
	return both / math.Sqrt(max(a*b, 1e-30))
}

// another reports whether what was heard at p in place of beat n, at which k is, is another of a
// beat's sounds than the one that is followed: where a movement hesitates by about as much as two
// of them lie apart, one comes where the other is due. The middle of all that sounds lies elsewhere
// about it than about the beats before, and all that sets in has moved; k and the place are then
// as moved has them.
func (t *tracker) another(k *kalman, n int64, due float64, p place) (*kalman, place, bool) {
	if !t.centres[t.sideOf(n)].surprised(t.centre(p.at)) {
		return nil, place{}, false
	}
	here := p.at - due
	lies := t.pattern(k, n, t.risesAtAGlance)
	if _, most := t.liesBest(here, lies); most <= lies(here) {
		return nil, place{}, false
	}
	lies = t.pattern(k, n, t.rises)
	least := lies(here) + surelyMoved
	if _, most := t.liesBest(here, lies); most <= least {
		return nil, place{}, false
	}
	moved, q, _, ok := t.moved(k, n, due)
	return moved, q, ok && math.Abs(q.at-p.at) > sameSound*t.model.rate && lies(q.at-due) > least
}

// liesBest returns the move, in frames and within reach of where a beat is due, for which lies is
// greatest, and that, of those that are farther from one than two places of one sound.
func (t *tracker) liesBest(from float64, lies func(by float64) float64) (best, most float64) {
	reach, block := t.model.reach(), float64(t.model.block)
	for by := -reach; by <= reach; by += block {
		if math.Abs(by-from) > sameSound*t.model.rate {
			if c := lies(by); c > most {
				best, most = by, c
			}
		}
	}
	return best, most
}

// centre returns by how many frames the middle of what sounds about a mark, within reach of it,
// comes after it: of what is plainly louder at a glance than the room.
func (t *tracker) centre(mark float64) float64 {
	const plainly = 3
	reach := t.model.reach()
	e := t.buffer.roughly(mark-reach, mark+reach)
	room := float32(plainly * t.roughRoom.median())
	var sum, moment float32
	for i, v := range e {
		if v > room {
			sum += v
			moment += v * float32(i)
		}
	}
	if sum == 0 {
		return 0
	}
	a, _ := t.buffer.blocks(mark-reach, mark+reach)
	from := float64(t.buffer.first) + float64(a*t.model.block)
	return from + float64(moment/sum)*float64(t.model.block) - mark
}

// surelyMoved is by how much more the rises of a beat coincide with those before them where its
// sounds have moved than where they have not: of sounds that lie a hesitation apart, they do by 0.3
// to 0.7 more in three runs of the bench, and by 0.1 or less where nothing has moved.
const surelyMoved = 0.2
