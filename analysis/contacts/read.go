package contacts

import (
	"cmp"
	"fmt"
	"math"
	"slices"
	"sort"
)

// Limits is what is known of the movement beside its sound.
type Limits struct {
	Period    float64 // of the oscillator, s
	LiftAngle float64 // degrees; 0 where it is not known
	LiftTime  float64 // about the lift time at the start of the run, s; 0 where it is not known
	Crowded   bool    // sounds of another movement lie among those of the beats
}

// Reading is which sounds of a beat bound its lift, and how that went over the
// run.
type Reading struct {
	// Doubt says why the lift could not be told, in words that go on "the lift
	// could not be told: "; empty where it was.
	Doubt string
	Lift  Course
	// Mid-lift comes after the mark of a side's beats by mark seconds, plus share
	// of the lift time.
	mark, share     [2]float64
	markSE, shareSE float64      // of one side's mark against the other's, s; of share
	Portraits       []Portrait   // of the sound of a beat, in order of time
	Sounds          [2][]float64 // where the sounds of a side set in, in parts of the lift from its first sound
}

// Told reports whether the lift was told.
func (r *Reading) Told() bool { return r.Doubt == "" }

// Mid returns by how many seconds mid-lift comes after the mark of the beat of a
// side that is marked at a true time in seconds.
func (r *Reading) Mid(side int, at float64) float64 {
	lift, _ := r.Lift.Lift(at)
	return r.mark[side] + r.share[side]*lift
}

// DriftSE is the standard error of how much mid-lift moves against the mark at a
// true time, s/s: the relative error that the mark leaves to a period.
func (r *Reading) DriftSE(at float64) float64 {
	slope, se := r.Lift.Slope(at)
	share := (r.share[0] + r.share[1]) / 2
	return math.Hypot(share*se, r.shareSE*slope)
}

// MoveSE is the standard error of how far mid-lift moved against the mark from one true
// time to another, s.
func (r *Reading) MoveSE(from, to float64) float64 {
	share := (r.share[0] + r.share[1]) / 2
	a, aSE := r.Lift.own(from)
	b, bSE := r.Lift.own(to)
	return math.Hypot(share*math.Hypot(aSE, bSE), math.Hypot(share*r.Lift.scaleSE, r.shareSE)*(b-a))
}

// UnevenSE is the standard error of mid-lift on one side against that on the
// other, s: two sounds of unlike shape can be set against each other no better.
func (r *Reading) UnevenSE() float64 { return r.markSE }

// reader works on one run.
type reader struct {
	*sheet
	limits   Limits
	onsets   [2][][]float32
	anchorSE [2]float64 // of where the sounds that mark the beats set in, frames
	scale    course     // by how much the lift of each block is longer than at the run's middle
	outlines [2]outline
	found    [2][]arrival
	traces   []trace
}

// trace is a contact that was followed through the run.
type trace struct {
	sounding
	course
	se float64 // of where it sets in, frames
}

// Read tells the lift from the stacks of a run, whose sound it whitens in place.
// pre is the Stacker's, and rate in Hz.
func Read(blocks []Block, pre int, rate float64, w *Whitener, limits Limits, clock func(frame float64) float64) Reading {
	if len(blocks) == 0 {
		return Reading{Doubt: "too few beats were heard"}
	}
	r := &reader{sheet: newSheet(blocks, pre, rate, w, limits.Period), limits: limits}
	r.findAnchors()
	for side := range r.onsets {
		r.onsets[side] = r.sheet.onsets(side)
	}
	if !r.followSounds() {
		out := Reading{Doubt: "no sound of the beat but the loudest could be followed through the run"}
		out.Portraits = r.portraits(&out, clock)
		return out
	}
	return r.decide(clock)
}

// findAnchors finds where the sounds that mark the beats set in.
func (r *reader) findAnchors() {
	ones := make([]float64, len(r.blocks))
	for k := range ones {
		ones[k] = 1
	}
	both := [2]outline{r.sheet.outline(0, ones), r.sheet.outline(1, ones)}
	var at [2]float64
	for side := range at {
		best := arrival{}
		for _, reach := range []float64{1e-3, templateSeconds} { // as a rule where the sound sets in, somewhere in it else
			for _, a := range r.arrivals(side, both) {
				if math.Abs(a.at) <= r.frames(reach) && a.power > best.power {
					best = a
				}
			}
			if best.power > 0 {
				break
			}
		}
		places := make([]float64, len(r.blocks))
		for k := range places {
			places[k] = best.at
		}
		e := r.edge(side, places)
		e.at += best.at
		at[side], r.anchorSE[side] = e.at, e.se
	}
	r.anchor = at
}

// edge is where a sound sets in, and the standard error of that, frames.
type edge struct{ at, se float64 }

// edge returns where a sound sets in against the places given, of every block, laid over
// itself at these; places that are NaN are left out.
func (r *reader) edge(side int, places []float64) edge {
	lead := r.frames(1e-3)
	x := r.average(side, places, lead, int(1.6*lead))
	e := onset(x, int(0.4*lead), int(1.5*lead))
	e.at -= lead
	return e
}

// onset returns where in x[lo:hi] a sound sets in, where x is two stretches of white
// noise, a quiet one and a loud one (N. Maeda, Zisin 38, 1985): the mean over all places
// by how likely each is, so that a sound that sets in gently, or in the ringing of
// another, has the error that it should have.
func onset(x []float64, lo, hi int) edge {
	// Of a sound that fills part of the band, neighbouring samples tell half as much; and
	// what limits the band of a recorder rings before a sharp sound, at −23 dB or less.
	const correlated, ringing = 2, 0.005
	sum := make([]float64, len(x)+1)
	for i, v := range x {
		sum[i+1] = sum[i] + v*v
	}
	n := len(x)
	cost := make([]float64, hi-lo) // minus twice the log-likelihood
	for i := range cost {
		k := lo + i
		after := (sum[n] - sum[k]) / float64(n-k)
		before := math.Max(sum[k]/float64(k), ringing*after)
		cost[i] = float64(k)*math.Log(before+1e-30) + float64(n-k)*math.Log(after+1e-30)
	}
	least := slices.Min(cost)
	var all, mean, square float64
	for i, c := range cost {
		w, k := math.Exp((least-c)/2/correlated), float64(lo+i)
		all += w
		mean += w * k
		square += w * k * k
	}
	mean /= all
	const rounding = 1. / 12 // variance of a place between two samples
	return edge{mean, math.Sqrt(math.Max(0, square/all-mean*mean) + rounding)}
}

// followSounds follows the sounds of the beat through the run: first the one that
// sets in most clearly, then, where that and what moves with it have been told
// from the profile, several of them together.
func (r *reader) followSounds() bool {
	first := r.strongestRidge(r.onsets)
	if first.at == nil {
		return false
	}
	r.scaleBy(first.at)
	c, ok := r.sheet.trace(first.side, first.at)
	if ok {
		c.shift(r.edge(first.side, c.heardAt()).at)
		r.scaleBy(c.at)
	}
	r.profile()
	sounds := r.clearest()
	if len(sounds) == 0 {
		return false
	}
	joint := r.path(r.onsets, sounds, outwardTogether)
	if joint.at == nil {
		return false
	}
	r.scaleBy(joint.at)
	unit := median(joint.at) / sounds[0].ratio
	for range 2 {
		r.traceAll(sounds, unit)
		if len(r.traces) == 0 || !r.combine() {
			return false
		}
	}
	r.profile()
	return true
}

// traceAll follows several sounds, whose places in the middle of the run are their ratios
// times unit, from where the lift says that they are.
func (r *reader) traceAll(sounds []sounding, unit float64) {
	r.traces = r.traces[:0]
	for _, snd := range sounds {
		rough := make([]float64, len(r.scale.at))
		for k, g := range r.scale.at {
			rough[k] = snd.ratio * unit * g
		}
		if c, ok := r.sheet.trace(snd.side, rough); ok {
			e := r.edge(snd.side, c.heardAt())
			c.shift(e.at)
			r.traces = append(r.traces, trace{sounding{snd.side, snd.ratio * unit, snd.power}, c, e.se})
		}
	}
}

// scaleBy takes the lift to go with the places of a sound.
func (r *reader) scaleBy(at []float64) {
	middle := median(at)
	r.scale = course{at: make([]float64, len(at))}
	for k, v := range at {
		r.scale.at[k] = math.Max(v/middle, 0.2)
	}
}

// profile lays all blocks over each other and finds the sounds.
func (r *reader) profile() {
	for side := range r.found {
		r.outlines[side] = r.sheet.outline(side, r.scale.at)
	}
	for side := range r.found {
		r.found[side] = r.arrivals(side, r.outlines)
	}
}

// clearest returns the two strongest sounds beside the anchor of either side, the
// one farthest from it first.
func (r *reader) clearest() []sounding {
	const few = 2
	var out []sounding
	for side := range r.found {
		as := slices.DeleteFunc(slices.Clone(r.found[side]), func(a arrival) bool { return math.Abs(a.at) < r.frames(r.apart()) })
		slices.SortStableFunc(as, func(a, b arrival) int { return cmp.Compare(b.power, a.power) })
		for _, a := range as[:min(few, len(as))] {
			out = append(out, sounding{side, a.at, a.power / float64(len(r.bands))})
		}
	}
	slices.SortStableFunc(out, func(a, b sounding) int { return cmp.Compare(math.Abs(b.ratio), math.Abs(a.ratio)) })
	return out
}

// combine takes the lift from all traces: their places are in proportion to it. It
// reports whether they tell enough of it.
func (r *reader) combine() bool {
	for range 2 {
		for i := range r.traces {
			t := &r.traces[i]
			var sum, weight float64
			for k, m := range t.matches {
				if !math.IsNaN(m.snr) {
					w := r.scale.at[k] * r.scale.at[k] / (m.se * m.se)
					sum += w * m.at / r.scale.at[k]
					weight += w
				}
			}
			t.ratio = sum / weight
		}
		ms := make([]match, len(r.scale.at))
		for k := range ms {
			var sum, weight float64
			for _, t := range r.traces {
				if m := t.matches[k]; !math.IsNaN(m.snr) && math.Abs(m.at-t.at[k]) < r.frames(0.4e-3) {
					w := t.ratio * t.ratio / (m.se * m.se)
					sum += w * m.at / t.ratio
					weight += w
				}
			}
			ms[k] = match{at: sum / weight, se: 1 / math.Sqrt(weight), snr: 1}
			if weight == 0 {
				ms[k].snr = math.NaN()
			}
		}
		c, ok := r.smooth(ms)
		if !ok {
			return false
		}
		r.scale = c
	}
	return true
}

// bounds is the first and last sound of a side, in frames from its anchor at the
// run's middle.
type bounds struct {
	first, last     float64
	firstSE, lastSE float64
}

func (b bounds) lift() float64   { return b.last - b.first }
func (b bounds) liftSE() float64 { return math.Hypot(b.firstSE, b.lastSE) }

// settle moves both to where they most probably are when the lift is known, and
// returns the standard error of the middle between them, and by how much that moves
// with the lift.
func (b *bounds) settle(lift float64) (midSE, moves float64) {
	u, v := b.firstSE*b.firstSE, b.lastSE*b.lastSE
	b.first = (b.first*v + (b.last-lift)*u) / (u + v)
	b.last = b.first + lift
	return math.Sqrt(u * v / (u + v)), 0.5 - u/(u+v)
}

// The last sound of a lift, drop, is among the loudest of a beat (common
// practice): at most so much weaker than the loudest, in power. What rings on in
// a room and swells again is weaker. Where the lift grows, that does not set in at one
// place of it, and a drop may be somewhat weaker.
const (
	leastLast       = 0.16
	leastLastMoving = 0.05
)

// bounds returns the first and last sound of a side.
func (r *reader) boundsOf(side int) bounds {
	if r.limits.LiftTime > 0 {
		return r.boundsNear(side, r.frames(r.limits.LiftTime)/r.scale.at[0])
	}
	var b bounds
	for _, a := range r.found[side] {
		at := a.at
		if math.Abs(at) < r.frames(r.apart())/2 {
			at = 0
		}
		b.first = math.Min(b.first, at)
		if r.mayBeLast(side, a) {
			b.last = math.Max(b.last, at)
		}
	}
	return b
}

// mayBeLast reports whether a sound of a side may be its drop.
func (r *reader) mayBeLast(side int, a arrival) bool {
	loud := a.power / r.strongest(side)
	return loud >= leastLast || loud >= leastLastMoving && r.moves() && a.sudden > leastSudden(len(r.bands))
}

// moves reports whether the lift changes so much over the run that only what moves with
// it stays sharp in the profile.
func (r *reader) moves() bool {
	const much = 1.2
	return slices.Max(r.scale.at) > much*slices.Min(r.scale.at)
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

// decide tells the lift, or why it can't be told.
func (r *reader) decide(clock func(frame float64) float64) Reading {
	var b [2]bounds
	for side := range b {
		b[side] = r.boundsOf(side)
	}
	r.withoutEchoes(&b)
	long := 0
	if b[1].lift() > b[0].lift() {
		long = 1
	}
	for side := range b {
		first, last := r.edgeAt(side, b[side].first), r.edgeAt(side, b[side].last)
		b[side] = bounds{first.at, last.at, first.se, last.se}
	}
	lift, se, same := r.common(b)
	doubt := ""
	if !same {
		doubt = r.contradicted(1-long, b)
		lift, se = b[long].lift(), math.Hypot(r.frames(edgeSE), b[long].liftSE())
		b[1-long] = r.complete(1-long, b[1-long], b[long])
	}
	if doubt == "" {
		doubt = r.implausible(lift)
	}
	if doubt == "" && r.limits.LiftTime == 0 && r.mayHide(b) {
		doubt = "two sounds of a beat are heard, and an unlocking before them would be too faint to be"
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
	if doubt != "" {
		out := Reading{Doubt: doubt}
		out.Portraits = r.portraits(&out, clock)
		return out
	}
	tickSE, tickMoves := b[0].settle(lift)
	tockSE, tockMoves := b[1].settle(lift)
	uneven := math.Hypot(math.Sqrt(1-common)*math.Hypot(tickSE, tockSE), (tickMoves-tockMoves)*se)
	out := Reading{
		shareSE: se / lift,
		markSE:  math.Hypot(r.onsetSE(), uneven/r.rate),
		Lift:    r.course(lift, se, clock),
	}
	for side, v := range b {
		out.mark[side] = r.anchor[side] / r.rate
		out.share[side] = (v.first + v.last) / 2 / lift
		for _, a := range r.found[side] {
			if a.at >= v.first-r.frames(0.3e-3) && a.at <= v.last+r.frames(0.3e-3) {
				out.Sounds[side] = append(out.Sounds[side], (a.at-v.first)/lift)
			}
		}
	}
	out.Portraits = r.portraits(&out, clock)
	return out
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
const edgeSE = 25e-6

// common is what part of the variance of an onset is the same on both sides: how gently a
// sound sets in is what makes its onset doubtful, and sides are alike in that. Set by the
// beat errors of draws of the bench (TestCourseErrors says how the generator's compare).
const common = 0.75

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
// much weaker than the drop, or where the other side would have it and has nothing.
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
		if a.at < own.last && r.mayBeLast(side, a) && (silent || a.power > muchLouder*last) {
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
// has, the one in which most sets in where it should.
func (r *reader) complete(side int, b, other bounds) bounds {
	sounds := []float64{other.first, other.last}
	for _, a := range r.found[1-side] {
		if a.at > other.first+r.frames(r.apart()) && a.at < other.last-r.frames(r.apart()) {
			sounds = append(sounds, a.at)
		}
	}
	best, most := b, -1.0
	for _, own := range []edge{{b.first, b.firstSE}, {b.last, b.lastSE}} {
		for i, s := range sounds {
			first := own.at + other.first - s
			var sudden float64
			for _, s := range sounds {
				is, _ := r.about(side, r.outlines[side], first+s-other.first, nearby)
				sudden += is
			}
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
	return best
}

// edgeAt returns where a sound of a side sets in exactly; that of the anchor is
// 0.
func (r *reader) edgeAt(side int, at float64) edge {
	if at == 0 {
		return edge{0, r.anchorSE[side]}
	}
	for _, t := range r.traces {
		if t.side == side && math.Abs(t.ratio-at) < r.frames(nearby) {
			return edge{t.ratio, t.se}
		}
	}
	places := make([]float64, len(r.scale.at))
	for k, g := range r.scale.at {
		places[k] = at * g
	}
	e := r.edge(side, places)
	e.at += at
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
	case r.period < slowest && least < r.period*math.Asin(leastAngle/2/widest)/math.Pi:
		return "the first or the last sound of the beat was not heard: what was heard would be too short a lift for a balance"
	case angle > 0 && angle/2/math.Sin(math.Pi*least/r.limits.Period) > widest:
		return "it would be that of an amplitude which no oscillator reaches; the lift angle is too large, or the first sounds of the beat were not heard"
	}
	return ""
}

// leaps reports whether the lift grows much within a while that has calm before and
// after it: a spring that is let go from full wind has no calm before, and one that is
// about to stop none after.
func (r *reader) leaps() bool {
	const (
		while = 40   // s
		much  = 0.15 // of the lift
		calm  = 0.25 // of that growth
	)
	at := func(t float64) float64 { // scale, t seconds after the first block
		k := sort.Search(len(r.scale.at)-1, func(k int) bool { return r.time(k)-r.time(0) >= t*r.rate })
		return r.scale.at[k]
	}
	end := (r.time(len(r.scale.at)-1) - r.time(0)) / r.rate
	for t := float64(while); t+2*while <= end; t += while / 4 {
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
// sounds of either side are, and one as faint as that would not pass for a sound before
// them. A balance whose lift is then too short shows that by its amplitude, a pendulum
// does not.
func (r *reader) mayHide(b [2]bounds) bool {
	for side := range b {
		n := 0
		for _, a := range r.found[side] {
			if a.at >= b[side].first-r.frames(nearby) && a.at <= b[side].last+r.frames(nearby) {
				n++
			}
		}
		at := min(max(0, r.bin(side, b[side].first)), r.bins-1)
		if n > 2 || faintest*r.strongest(side) > 2*leastAbove*r.outlines[side].sd[at] {
			return false
		}
	}
	return true
}

// slips reports whether somewhere in the run the mark is another sound of the beat than
// elsewhere: of some blocks in a row, all sounds together set in more clearly, moved by
// the distance of two of them, than where they should be. A movement that hesitates by
// as much as two sounds alike lie apart leads the tracker from one to the other. By noise
// that is so with the probability falseSlip.
func (r *reader) slips() bool {
	const falseSlip = 1e-6
	most, tried := 0.0, 1.0
	for side := range r.found {
		for _, a := range r.found[side] {
			for _, b := range r.found[side] {
				if d := a.at - b.at; math.Abs(d) >= r.frames(r.apart()) {
					most = math.Max(most, r.slipBy(d))
					tried += float64(len(r.blocks))
				}
			}
		}
	}
	return most > math.Log(tried/falseSlip)
}

// slipBy returns the most evidence, in nats, that the mark of some blocks in a row lies
// by a distance, in frames at the run's middle, from where it is in the others. Moved by
// it, the sounds have to set in about as clearly as they do elsewhere: where the lift was
// lost, they do so nowhere.
func (r *reader) slipBy(d float64) float64 {
	const asClear = 0.6
	here, moved := r.setIn(0), r.setIn(d)
	usual := asClear * median(here)
	sum, most := 0.0, 0.0
	for k := range here {
		if by := moved[k] - here[k]; by < 0 || moved[k] > usual {
			sum = math.Max(0, sum+by)
		}
		most = math.Max(most, sum)
	}
	return most
}

// setIn returns for each block how suddenly all sounds set in where they should if the
// mark lay by so many frames, at the run's middle, from where it is, in nats.
func (r *reader) setIn(by float64) []float64 {
	out := make([]float64, len(r.blocks))
	for k, g := range r.scale.at {
		for side, found := range r.found {
			for _, a := range found {
				w := sounding{power: a.power / float64(len(r.bands))}.weight(r.blocks[k].Sides[side].Beats)
				out[k] += w * r.onsetNear(side, k, (a.at-by)*g)
			}
		}
	}
	return out
}

// onsetNear returns how suddenly a side's sound sets in about a place of a block, nats.
func (r *reader) onsetNear(side, k int, place float64) float64 {
	best := 0.0
	for b := max(0, r.bin(side, place)-1); b <= min(r.bins-1, r.bin(side, place)+1); b++ {
		best = math.Max(best, float64(r.onsets[side][k][b]))
	}
	return best
}

// A movement whose period is shorter than slowest, in seconds, has a balance, and
// its lift angle is at least so many degrees (common practice).
const (
	slowest    = 0.55
	leastAngle = 36.0
)

// widest is the greatest amplitude that is believed, degrees: a balance that
// swings through a full turn less half the lift angle meets the escapement again
// from behind, and is heard to knock (common practice).
const widest = 350.0

func median(x []float64) float64 {
	s := slices.Clone(x)
	slices.Sort(s)
	return s[len(s)/2]
}
