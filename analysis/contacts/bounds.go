package contacts

import (
	"fmt"
	"math"
	"slices"
	"sort"
)

// bounds is the first and last sound of a side, in frames from its anchor at the
// run's middle.
type bounds struct {
	first, last     float64
	firstSE, lastSE float64
}

func (b bounds) lift() float64   { return b.last - b.first }
func (b bounds) liftSE() float64 { return math.Hypot(b.firstSE, b.lastSE) }

// place moves both to where they most probably are when the lift is known, and
// returns the standard error of the middle between them, and by how much that moves
// with the lift.
func (b *bounds) place(lift float64) (midSE, moves float64) {
	u, v := b.firstSE*b.firstSE, b.lastSE*b.lastSE
	b.first = (b.first*v + (b.last-lift)*u) / (u + v)
	b.last = b.first + lift
	return math.Sqrt(u * v / (u + v)), 0.5 - u/(u+v)
}

// The last sound of a lift, drop, is among the loudest of a beat (common
// practice): at most so much weaker than the loudest, in power, which is 6 dB. What rings
// on in a room and swells again is weaker: of 107 drops of draws of the bench, the weakest
// was 4 dB under the loudest sound, and of seven echoes of theirs the loudest 8 dB; one of
// 6.5 dB was met later: where the loud sounds alone make no lift that an oscillator has, a
// drop may be as weak as that. Where the lift grows, an echo does not set in at one place of it, and a drop may be somewhat
// weaker.
const (
	leastLast       = 0.25
	leastLastElse   = 0.18
	leastLastMoving = 0.05
)

// boundsOf returns the first and last sound of a side.
func (r *reader) boundsOf(side int) bounds {
	if r.limits.LiftTime > 0 {
		return r.boundsNear(side, r.frames(r.limits.LiftTime)/r.scale.at[0])
	}
	var b bounds
	for _, a := range r.found[side] {
		b.first = math.Min(b.first, r.orAnchor(a.at))
	}
	for _, a := range r.found[side] {
		if r.mayBeLast(side, a) && !r.follows(side, a, b.first) {
			b.last = math.Max(b.last, r.orAnchor(a.at))
		}
	}
	return b
}

// withoutReflections takes from the sounds of a side, in order of time, those that are
// reflected: what reflects one sound of a beat reflects them all, as late and as much
// weaker. Of four sounds a, b, c and d of which d comes as long after c as b after a, d
// comes as long after b as c after a as well: d is reflected either way, and of b and c
// the one that is, where the other one is louder than a.
func (r *reader) withoutReflections(sounds []arrival) (own, reflected []arrival) {
	alike := func(a, b, c, d arrival) bool {
		const within = 2 // the powers of reflections, in proportion
		part := b.power / a.power * c.power / d.power
		return math.Abs((d.at-c.at)-(b.at-a.at)) < r.frames(nearby) && part < within && part > 1./within
	}
	mirrored := map[arrival]bool{}
	for i, a := range sounds {
		for j, b := range sounds[i+1:] {
			for k, c := range sounds[i+j+2:] {
				for _, d := range sounds[i+j+k+3:] {
					one, other := b.power < a.power && d.power < c.power, c.power < a.power && d.power < b.power
					if !one && !other || !alike(a, b, c, d) {
						continue
					}
					mirrored[d] = true
					if !other {
						mirrored[b] = true
					}
					if !one {
						mirrored[c] = true
					}
				}
			}
		}
	}
	for _, a := range sounds {
		if mirrored[a] {
			reflected = append(reflected, a)
		} else {
			own = append(own, a)
		}
	}
	return own, reflected
}

// twoDrops reports whether on both sides a louder sound before the last one would end a
// lift as well: there are an unlocking and an impulse before it. What comes after it may
// be an echo then, but for one that is seen to move with the lift.
func (r *reader) twoDrops(b [2]bounds) bool {
	if r.outlines[0].moves() {
		return false
	}
	for side := range b {
		first, last := b[side].first, r.powerAt(side, b[side].last)
		ends := func(drop arrival) bool {
			return drop.at < b[side].last-r.frames(nearby) && drop.power > last && slices.ContainsFunc(r.found[side], func(impulse arrival) bool {
				return impulse.at > first+r.frames(nearby) && impulse.at-first < latestImpulse*(drop.at-first)
			})
		}
		if !slices.ContainsFunc(r.found[side], ends) {
			return false
		}
	}
	return true
}

// orAnchor returns a place, 0 where the sound there is the anchor.
func (r *reader) orAnchor(at float64) float64 {
	if math.Abs(at) < r.frames(r.apart())/2 {
		return 0
	}
	return at
}

// latestImpulse is the part of the lift before which the impulse begins (common practice).
const latestImpulse = 0.75

// follows reports whether a sound of a side, in a beat that begins at first, comes too soon
// after the loudest one to be the drop, were that the impulse. It is an echo.
func (r *reader) follows(side int, a arrival, first float64) bool {
	for _, loudest := range r.found[side] {
		if loudest.power == r.strongest(side) {
			return a.at > loudest.at && loudest.at-first > latestImpulse*(a.at-first)
		}
	}
	return false
}

// mayBeLast reports whether a sound of a side may be its drop.
func (r *reader) mayBeLast(side int, a arrival) bool {
	loud := a.power / r.strongest(side)
	return loud >= r.weakest || loud >= leastLastMoving && r.outlines[0].moves() && a.sudden > leastSudden(len(r.power[side]), swells/float64(len(rises)))
}

// boundsNear returns the two sounds of a side, the anchor one of them or not, whose
// distance is nearest to a lift of so many frames.
func (r *reader) boundsNear(side int, lift float64) bounds {
	places := []float64{0}
	for _, a := range r.found[side] {
		if math.Abs(a.at) >= r.frames(r.apart())/2 {
			places = append(places, a.at)
		}
	}
	slices.Sort(places)
	var best bounds
	for i, first := range places {
		for _, last := range places[i+1:] {
			if b := (bounds{first: first, last: last}); math.Abs(b.lift()-lift) < math.Abs(best.lift()-lift) {
				best = b
			}
		}
	}
	return best
}

// telling is what the sounds of both sides tell of the lift.
type telling struct {
	bounds    [2]bounds
	lift, se  float64 // frames
	elsewhere float64 // where one side's lift may lie as well, frames
	doubt     string
}

// tell returns what the sounds tell of the lift, where a drop is no weaker than weakest
// against the loudest sound.
func (r *reader) tell(weakest float64) (t telling) {
	r.weakest = weakest
	b := &t.bounds
	for side := range b {
		b[side] = r.boundsOf(side)
	}
	r.withoutEchoes(b)
	long := 0
	if b[1].lift() > b[0].lift() {
		long = 1
	}
	for side := range b {
		first, last := r.edgeAt(side, b[side].first), r.edgeAt(side, b[side].last)
		b[side] = bounds{first.at, last.at, first.se, last.se}
	}
	var same bool
	t.lift, t.se, same = r.common(*b)
	if !same {
		t.doubt = r.contradicted(1-long, *b)
		t.lift, t.se = b[long].lift(), math.Hypot(r.frames(edgeSE), b[long].liftSE())
		b[1-long], t.elsewhere = r.complete(1-long, b[1-long], b[long])
	}
	if t.doubt == "" {
		t.doubt = r.implausible(t.lift)
	}
	return t
}

// decide tells the lift, or why it can't be told. Where the loud sounds alone make one
// that no oscillator has, a weaker one may be the drop.
func (r *reader) decide(clock func(frame float64) float64) Reading {
	t := r.tell(leastLast)
	if t.doubt != "" {
		if weaker := r.tell(leastLastElse); weaker.doubt == "" {
			t = weaker
		}
	}
	b, lift, se, elsewhere, doubt := t.bounds, t.lift, t.se, t.elsewhere, t.doubt
	if doubt == "" && r.limits.LiftTime == 0 && r.mayHide(b) {
		doubt = "two sounds of a beat are heard, and an unlocking before them would be too faint to be"
	}
	if doubt == "" && r.limits.LiftTime == 0 && r.mayEndLater(b) {
		doubt = "two sounds of a beat are heard, and what swells after them on both sides may be the drop"
	}
	if doubt == "" && r.limits.Crowded && r.limits.LiftTime == 0 {
		doubt = "sounds of another movement lie among those of the beats"
	}
	if doubt == "" && r.slips() {
		doubt = "the sound that marks the beats is another one for a while than in the rest of the run"
	}
	if doubt == "" && r.leaps() {
		doubt = "the sounds by which it is told move apart all at once in the middle of the run, as no oscillator makes them: one was taken for another"
	}
	if doubt == "" && r.limits.LiftTime == 0 && r.twoDrops(b) {
		doubt = "each of two sounds may be the one that ends the lift, and the later one an echo"
	}
	if doubt != "" {
		out := Reading{Doubt: doubt}
		out.Portraits = r.portraits(&out, clock)
		return out
	}
	edges := b
	tickSE, tickMoves := b[0].place(lift)
	tockSE, tockMoves := b[1].place(lift)
	uneven := math.Hypot(math.Sqrt(1-common)*math.Hypot(tickSE, tockSE), (tickMoves-tockMoves)*se)
	out := Reading{
		shareSE: math.Hypot(se, elsewhere/2) / lift,
		markSE:  math.Hypot(math.Hypot(r.onsetSE(), uneven/r.rate), elsewhere/r.rate),
		Lift:    r.course(lift, se, clock),
	}
	for side, v := range b {
		out.mark[side] = r.anchor[side] / r.rate
		out.share[side] = (v.first + v.last) / 2 / lift
		out.sounds[side] = r.named(side, edges[side], v)
	}
	out.Portraits = r.portraits(&out, clock)
	return out
}

// named returns the sounds of a side between the edges of its lift, which were told to lie
// at b, with unlocking and drop; in parts of the lift from its middle.
func (r *reader) named(side int, edges, b bounds) []Contact {
	near := r.frames(nearby)
	sounds := []Contact{{Name: "unlocking", At: -0.5, Unheard: edges.firstSE == unknown && r.powerAt(side, edges.first) == 0}}
	for _, a := range r.found[side] {
		if a.at > edges.first+near && a.at < edges.last-near {
			sounds = append(sounds, Contact{At: (a.at-b.first)/b.lift() - 0.5})
		}
	}
	if len(sounds) == 2 {
		sounds[1].Name = "impulse"
	}
	return append(sounds, Contact{Name: "drop", At: 0.5, Unheard: edges.lastSE == unknown && r.powerAt(side, edges.last) == 0})
}

// common returns the lift of both sides and its standard error, and whether they have
// one in common.
func (r *reader) common(b [2]bounds) (lift, se float64, same bool) {
	u, v := b[0].liftSE()*b[0].liftSE(), b[1].liftSE()*b[1].liftSE()
	lift = (b[0].lift()*v + b[1].lift()*u) / (u + v)
	off := math.Abs(b[0].lift() - b[1].lift())
	se = math.Sqrt(u*v/(u+v)) * math.Max(1, off/math.Sqrt(u+v))
	return lift, math.Hypot(r.frames(edgeSE), se), off < 0.02*lift+r.frames(0.25e-3)+2*math.Sqrt(u+v)
}

// edgeSE is the standard error with which a lift time is told, s: a weak first
// sound is heard to set in a little later than a strong last one.
const edgeSE = 15e-6

// common is what part of the variance of an onset is the same on both sides: how gently a
// sound sets in is what makes its onset doubtful, and sides are alike in that. Set by the
// beat errors of draws of the bench (TestCourseErrors says how the generator's compare).
const common = 0.88

// onsetSE returns the standard error with which the setting-in of one sound can be
// set against that of another, of unlike shape, s: some part of the rise of a
// sharp sound, and of the distance between samples.
func (s *sheet) onsetSE() float64 {
	const rise, ofSample = 8e-6, 0.3
	return math.Hypot(rise, ofSample/s.rate)
}

// withoutEchoes takes back the last sounds of the sides where these make lifts that
// differ, and earlier ones make one that both have in common: what comes after the drop is
// something that it sets off on one side only, or an echo. It is taken back where it is
// much weaker than the drop, or weaker, and the other side would have it and has nothing.
func (r *reader) withoutEchoes(b *[2]bounds) {
	near := r.frames(nearby)
	if math.Abs(b[0].lift()-b[1].lift()) < near {
		return
	}
	most, best := 0.0, *b
	for _, tick := range r.drops(0, b) {
		for _, tock := range r.drops(1, b) {
			lift := tick - b[0].first
			if math.Abs(lift-tock+b[1].first) < near && lift > most && r.implausible(lift) == "" {
				most = lift
				best[0].last, best[1].last = tick, tock
			}
		}
	}
	*b = best
}

// muchLouder is by how much, in power, a drop is louder than what comes after it on its
// side alone: impulses are no more than 3 dB louder than their drops (common practice),
// and a movement's own contacts vary by as much again.
const muchLouder = 4

// drops returns where the drop of a side may be: at its last sound, or at one before
// that, if the last one may be none of the lift's.
func (r *reader) drops(side int, b *[2]bounds) []float64 {
	own, other := b[side], 1-side
	places := []float64{own.last}
	last := r.powerAt(side, own.last)
	silent := r.silentAt(other, b[other].first+own.lift(), own.last)
	for _, a := range r.found[side] {
		if a.at < own.last && r.mayBeLast(side, a) && (silent && a.power > last || a.power > muchLouder*last) {
			places = append(places, a.at)
		}
	}
	return places
}

// powerAt returns the power of the sound of a side that sets in at a place.
func (r *reader) powerAt(side int, place float64) float64 {
	for _, a := range r.found[side] {
		if math.Abs(a.at-place) <= r.frames(nearby) {
			return a.power
		}
	}
	return 0
}

// silentAt reports whether a side has nothing at a place though it should have a sound
// there: that which the other side has at its own, as much weaker as all of its sounds.
func (r *reader) silentAt(side int, place, others float64) bool {
	sudden, _ := r.about(side, r.outlines[side], place, nearby)
	otherSudden, clear := r.about(1-side, r.outlines[1-side], others, nearby)
	expected := clear * r.strongest(side) / r.strongest(1-side)
	return expected > leastClear && sudden < otherSudden/4 // in standard deviations, half
}

// contradicted says why a side whose lift is shorter than the other's speaks
// against that: there is nothing where it should have a sound, though it would be
// heard.
func (r *reader) contradicted(short int, b [2]bounds) string {
	lift := b[1-short].lift()
	for _, a := range r.found[1-short] {
		fromLast, fromFirst := b[1-short].last-a.at, a.at-b[1-short].first
		if near := r.frames(nearby); math.Abs(fromLast-b[short].lift()) < near || math.Abs(fromFirst-b[short].lift()) < near {
			return "" // it has two of the other side's sounds, and lacks the third
		}
	}
	lateSudden, late := r.about(short, r.outlines[short], b[short].first+lift, nearby)
	earlySudden, early := r.about(short, r.outlines[short], b[short].last-lift, nearby)
	at, clear := b[1-short].first, early
	if lateSudden > earlySudden {
		at, clear = b[1-short].last, late
	}
	_, other := r.about(1-short, r.outlines[1-short], at, nearby)
	if expected := other * r.strongest(short) / r.strongest(1-short); expected > leastClear && clear < expected/100 {
		return fmt.Sprintf("the two sides tell lifts of %.1f and %.1f ms", 1e3*b[0].lift()/r.rate, 1e3*b[1].lift()/r.rate)
	}
	return ""
}

// nearby is how far from where it should be a sound is looked for, s.
const nearby = 0.3e-3

// strongest returns the power of the strongest sound of a side.
func (r *reader) strongest(side int) float64 {
	most := 1e-9
	for _, a := range r.found[side] {
		most = math.Max(most, a.power)
	}
	return most
}

// unknown is the standard error of a bound that was not heard, frames.
const unknown = 1e6

// complete returns the bounds of a side that lacks the first or the last sound of
// the lift, or both: of all ways to lay the sounds of the other side over one that it
// has, the one in which most sets in where it should. Where another way is nearly as good,
// it also returns by how many frames that lies elsewhere: nearly is by feel.
func (r *reader) complete(side int, b, other bounds) (best bounds, elsewhere float64) {
	const nearly = 0.7
	sounds := []float64{other.first, other.last}
	for _, a := range r.found[1-side] {
		if a.at > other.first+r.frames(r.apart()) && a.at < other.last-r.frames(r.apart()) {
			sounds = append(sounds, a.at)
		}
	}
	best = b
	most := -1.0
	type way struct{ first, sudden float64 }
	var ways []way
	for _, own := range []edge{{b.first, b.firstSE}, {b.last, b.lastSE}} {
		for i, s := range sounds {
			first := own.at + other.first - s
			var sudden float64
			for _, s := range sounds {
				is, _ := r.about(side, r.outlines[side], first+s-other.first, nearby)
				sudden += is
			}
			ways = append(ways, way{first, sudden})
			if sudden <= most {
				continue
			}
			most, best = sudden, bounds{first, first + other.lift(), unknown, unknown}
			switch i {
			case 0:
				best.firstSE = own.se
			case 1:
				best.lastSE = own.se
			default: // neither was heard; the sound between them tells as much
				best.lastSE = math.Hypot(own.se, r.frames(nearby))
				if at := r.edgeAt(side, best.last); math.Abs(at.at-best.last) < r.frames(nearby) {
					best.last, best.lastSE = at.at, at.se
				}
			}
		}
	}
	for _, w := range ways {
		if w.sudden >= nearly*most {
			elsewhere = math.Max(elsewhere, math.Abs(w.first-best.first))
		}
	}
	return best, elsewhere
}

// edgeAt returns where a sound of a side sets in exactly, as it was followed or in proportion to
// the lift, by which of both tells it better; that of the anchor is 0.
func (r *reader) edgeAt(side int, at float64) edge {
	if at == 0 {
		return edge{0, r.anchorSE[side]}
	}
	traced := edge{se: math.Inf(1)}
	for _, t := range r.traces {
		if t.side == side && math.Abs(t.ratio-at) < r.frames(nearby) {
			traced = edge{t.ratio, t.se}
			break
		}
	}
	places := make([]float64, len(r.scale.at))
	for k, g := range r.scale.at {
		places[k] = at * g
	}
	e := r.edge(side, places)
	e.at += at
	if traced.se <= e.se {
		return traced
	}
	return e
}

// implausible says why a lift of so many frames at the run's middle is not that
// of an oscillator.
func (r *reader) implausible(lift float64) string {
	least := slices.Min(r.scale.at) * lift / r.rate
	switch angle, wanted := r.limits.LiftAngle, r.frames(r.limits.LiftTime)/r.scale.at[0]; {
	case wanted > 0 && math.Abs(lift-wanted) > wanted/4:
		return fmt.Sprintf("no two sounds of a beat are about %.3g ms apart at the start of the run", 1e3*r.limits.LiftTime)
	case lift < r.frames(1.5e-3):
		return "no two sounds of a beat stand apart"
	case angle == 0 && r.period < SlowestBalance && least < r.period*math.Asin(leastAngle/2/wide)/math.Pi:
		return "the first or the last sound of the beat was not heard: what was heard would be too short a lift for a balance"
	case angle > 0 && angle/2/math.Sin(math.Pi*least/r.limits.Period) > Knocks(angle):
		return "it would be that of an amplitude which no oscillator reaches; the lift angle is too large, or the first sounds of the beat were not heard"
	}
	return ""
}

// leaps reports whether the lift grows much within a while that has calm before and
// after it: a spring that is let go from full wind has no calm before, and one that is
// about to stop none after. What is smoothed leaps less suddenly than it did.
func (r *reader) leaps() bool {
	const shortest, longest = 40, 160 // s
	for while := float64(shortest); while <= longest; while *= 2 {
		if r.leapsWithin(while) {
			return true
		}
	}
	return false
}

// leapsWithin reports whether the lift leaps within a while, s.
func (r *reader) leapsWithin(while float64) bool {
	const (
		much = 0.15 // of the lift
		calm = 0.25 // of that growth
	)
	at := func(t float64) float64 { // scale, t seconds after the first block
		k := sort.Search(len(r.scale.at)-1, func(k int) bool { return r.time(k)-r.time(0) >= t*r.rate })
		return r.scale.at[k]
	}
	end := (r.time(len(r.scale.at)-1) - r.time(0)) / r.rate
	for t := while; t+2*while <= end; t += while / 4 {
		grown := at(t+while)/at(t) - 1
		before, after := at(t)/at(t-while)-1, at(t+2*while)/at(t+while)-1
		if grown > much && math.Max(math.Abs(before), math.Abs(after)) < calm*grown {
			return true
		}
	}
	return false
}

// faintest is how much weaker than the loudest sound of a beat, in power, an unlocking is at
// the least: 18 dB (common practice).
const faintest = 1. / 63

// mayHide reports whether an unlocking may be there that is not heard: no more than two
// sounds of either side are, and one as faint as unlockings are would not pass for a sound
// before them. On a pendulum, the first of them may be the impulse, and the unlocking as much
// fainter than that; a balance whose lift is then too short mostly shows that by its
// amplitude.
func (r *reader) mayHide(b [2]bounds) bool {
	for side := range b {
		n, first := 0, r.strongest(side)
		for _, a := range r.found[side] {
			if a.at >= b[side].first-r.frames(nearby) && a.at <= b[side].last+r.frames(nearby) {
				if n == 0 && r.period >= SlowestBalance {
					first = a.power
				}
				n++
			}
		}
		if n > 2 || r.wouldBeHeard(side, b[side].first, faintest*first) {
			return false
		}
	}
	return true
}

// mayEndLater reports whether the drop may be yet to come: no more than two sounds of either
// side are heard, and at one distance after them both sides swell to what a drop is as loud as,
// and more suddenly than what rings on does once in twenty times. It is too little to be told
// as a sound, and too much to be none.
func (r *reader) mayEndLater(b [2]bounds) bool {
	const swellsSeldom = 0.05
	lift, least := math.Min(b[0].lift(), b[1].lift()), leastSudden(2*len(r.power[0]), swellsSeldom/float64(len(rises)))
	for side := range b {
		for _, a := range r.found[side] {
			if a.at > b[side].first+r.frames(nearby) && a.at < b[side].last-r.frames(nearby) {
				return false
			}
		}
	}
	// Were the last sound the impulse, the drop would come after so much of what is the lift now.
	for after := (1/latestImpulse - 1) * lift; after < 2*lift; after += r.frames(nearby) {
		swell, loud := 0.0, true
		for side := range b {
			o := r.outlines[side]
			is, _ := r.about(side, o, b[side].last+after, nearby/2)
			at := min(max(0, r.bin(side, b[side].last+after)), r.bins-1)
			swell += is
			loud = loud && is > least/4 && slices.Max(o.level[at:min(r.bins, at+r.span(0.6e-3))]) > leastLast*r.strongest(side)
		}
		if loud && swell > least {
			return true
		}
	}
	return false
}

// wouldBeHeard reports whether a sound of a power would be heard on a side before a place: on
// a pendulum, by the rules of arrivalsBeside, against what the room seems to have there; on
// a balance, against the room's noise.
func (r *reader) wouldBeHeard(side int, place, power float64) bool {
	o := r.outlines[side]
	at := min(max(1, r.bin(side, place)), r.bins-1)
	sd := o.sd[at]
	if r.period < SlowestBalance {
		return power > 2*leastAbove*sd
	}
	before := o.level[:max(1, at-r.span(afterSeconds))]
	return power > leastClear*sd && power > leastAbove*math.Max(slices.Max(before), 2*sd)
}

// SlowestBalance is the period, in seconds, of an oscillator from which on it is a pendulum
// and no balance (common practice).
const SlowestBalance = 0.55

// leastAngle is the least lift angle of a balance, degrees (common practice).
const leastAngle = 36.0

// wide is the amplitude, degrees, that is not believed together with the least lift angle where
// the lift angle is not given (common practice).
const wide = 315.0

// Knocks returns the amplitude, degrees, at which a balance of a lift angle, degrees, meets the
// escapement again from behind, a full turn less half of that angle: it knocks, and swings no
// farther (common practice). No pendulum comes near it.
func Knocks(liftAngle float64) float64 { return 360 - liftAngle/2 }

func median(x []float64) float64 {
	s := slices.Clone(x)
	slices.Sort(s)
	return s[len(s)/2]
}
