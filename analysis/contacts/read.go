package contacts

import (
	"cmp"
	"math"
	"slices"

	"gonum.org/v1/gonum/floats"

	"rundown/dsp/parallel"
	"rundown/dsp/stats"
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
	markSE, shareSE float64    // of one side's mark against the other's, s; of share
	Portraits       []Portrait // of the sound of a beat, in order of time
	sounds          [2][]Contact
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
// true time, s/s: the relative error that the mark leaves to a period. least is what is
// left of it in a longer run, whose many beats tell where the lift begins and ends but for
// what the unlike shapes of these sounds hide.
func (r *Reading) DriftSE(at float64) (se, least float64) {
	slope, slopeSE := r.Lift.Slope(at)
	lift, _ := r.Lift.own(at)
	ofSlope := (r.share[0] + r.share[1]) / 2 * slopeSE
	return math.Hypot(ofSlope, r.shareSE*slope), math.Hypot(ofSlope, math.Min(r.shareSE, edgeSE/lift)*slope)
}

// MoveSE is the standard error of how far mid-lift moved against the mark from one true
// time to another, s.
func (r *Reading) MoveSE(from, to float64) float64 {
	share := (r.share[0] + r.share[1]) / 2
	a, aSE := r.Lift.own(from)
	b, bSE := r.Lift.own(to)
	return math.Hypot(share*math.Hypot(aSE, bSE), math.Hypot(share*r.Lift.scaleSE, r.shareSE)*(b-a))
}

// MidMoves returns by how many seconds, without a sign, mid-lift moves against the mark where
// the lift is longer by so many.
func (r *Reading) MidMoves(by float64) float64 { return math.Abs((r.share[0] + r.share[1]) / 2 * by) }

// UnevenSE is the standard error of mid-lift on one side against that on the
// other, s: two sounds of unlike shape can be set against each other no better.
func (r *Reading) UnevenSE() float64 { return r.markSE }

// Widen takes in that one side's mark against the other's may be another sound's, so many
// seconds off.
func (r *Reading) Widen(by float64) { r.markSE = math.Hypot(r.markSE, by) }

// reader works on one run.
type reader struct {
	*sheet
	limits   Limits
	onsets   [2][][]float32
	anchorSE [2]float64 // of where the sounds that mark the beats set in, frames
	weakest  float64    // drop that is believed, in power, against the loudest sound of a side
	following
}

// following is how the sounds of a beat were followed through the run.
type following struct {
	scale    course // by how much the lift of each block is longer than at the run's middle
	outlines [2]outline
	found    [2][]arrival
	// Reflections of these are none of the movement's sounds.
	reflected [2][]arrival
	traces    []trace
	evidence  float64 // of the path of several sounds together, nats a block
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
	parallel.Each(len(r.onsets), func(side int) { r.onsets[side] = r.sheet.onsets(side) })
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
	both := r.outlineBoth(ones)
	var at [2]float64
	for side := range at {
		best := arrival{}
		arrivals := r.arrivals(side, both)
		// As a rule where the sound sets in, else somewhere in it, or where it rings on.
		for _, reach := range []float64{1e-3, templateSeconds, 2 * templateSeconds} {
			for _, a := range arrivals {
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
// itself at these; places that are NaN are left out. It is told from the innovations (R.
// Sleeman and T. van Eck, Phys. Earth Planet. Inter. 113, 1999): what rings on from the sound
// before would hide it.
func (r *reader) edge(side int, places []float64) edge {
	lead := r.frames(1e-3)
	x := make([]float32, int(1.6*lead)+whitening)
	for i, v := range r.average(side, places, lead+whitening, len(x)) {
		x[i] = float32(v)
	}
	e := onset(r.ringing[side].Append(nil, x)[whitening:], int(0.4*lead), int(1.5*lead))
	e.at -= lead
	return e
}

// onset returns where in x[lo:hi] a sound sets in, where x is two stretches of white
// noise, a quiet one and a loud one (N. Maeda, Zisin 38, 1985): the mean over all places
// by how likely each is, were all samples to tell something of their own. Its error is of all
// places by how likely they are where fewer do, so that a sound that sets in gently, or in the
// ringing of another, has the error that it should have.
func onset(x []float32, lo, hi int) edge {
	// Of a sound that fills part of the band, neighbouring samples tell half as much; and
	// what limits the band of a recorder rings before a sharp sound, at −23 dB or less.
	const correlated, ringing = 2, 0.005
	sum := make([]float64, len(x)+1)
	for i, v := range x {
		sum[i+1] = sum[i] + float64(v)*float64(v)
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
	var own, at float64
	for i, c := range cost {
		w := math.Exp((least - c) / 2)
		own += w
		at += w * float64(lo+i)
	}
	at /= own
	var all, square float64
	for i, c := range cost {
		w, off := math.Exp((least-c)/2/correlated), float64(lo+i)-at
		all += w
		square += w * off * off
	}
	const rounding = 1. / 12 // variance of a place between two samples
	return edge{at, math.Sqrt(square/all + rounding)}
}

// surely is the evidence, in nats a block, from which on the path of several sounds is theirs:
// on 16 draws of the bench that were followed rightly it was 7 and more, on three whose path
// strayed through noise, 2 to 3.3.
const surely = 4

// followSounds follows the sounds of the beat through the run: first the one that
// sets in most clearly, then, where that and what moves with it have been told from the profile,
// several of them together. Where these are not surely followed, it begins with each of the others as
// well, and takes that way by which sounds set in most suddenly when all blocks are laid over each
// other.
func (r *reader) followSounds() bool {
	var best following
	for _, first := range r.ridges(r.onsets) {
		if !r.followFrom(first) {
			continue
		}
		if best.traces == nil || r.sudden(&r.following) > r.sudden(&best) {
			best = r.following
		}
		if r.evidence >= surely {
			break
		}
	}
	r.following = best
	return best.traces != nil
}

// sudden returns how suddenly the sounds beside the anchors set in, in sum.
func (r *reader) sudden(f *following) float64 {
	sum := 0.0
	for _, as := range f.found {
		for _, a := range as {
			if math.Abs(a.at) >= r.frames(r.apart()) {
				sum += a.sudden
			}
		}
	}
	return sum
}

// followFrom follows the sounds of the beat from one of them on.
func (r *reader) followFrom(first ridge) bool {
	r.traces = nil
	r.scaleBy(first.at)
	c, ok := r.sheet.trace(first.side, first.at)
	if ok {
		c.shift(r.edge(first.side, c.heardAt()).at)
		r.scaleBy(c.at)
	}
	r.profile()
	for sounds, before := r.clearest(), 0; len(sounds) > before || before == 0; sounds = r.clearest() {
		if before = len(sounds); !r.followTogether() {
			return false
		}
	}
	// Where the lift is not known yet, a reflection may pass for a sound that moves with it.
	return !r.followsReflections() || r.followTogether()
}

// followTogether follows the clearest sounds of the profile together, along their path, or, where
// that is not surely theirs, as the lift was known before, if they set in more suddenly so.
func (r *reader) followTogether() bool {
	sounds := r.clearest()
	if len(sounds) == 0 {
		return false
	}
	joint := r.path(r.onsets, sounds, outwardTogether)
	if joint.at == nil {
		return false
	}
	known := slices.Clone(r.scale.at)
	floats.Scale(sounds[0].ratio, known)
	r.evidence = joint.evidence
	if !r.followAlong(joint.at, sounds) {
		return false
	}
	if along := r.following; r.evidence < surely && (!r.followAlong(known, sounds) || r.sudden(&along) >= r.sudden(&r.following)) {
		r.following = along
	}
	return true
}

// followAlong follows sounds together from where the first of them is roughly, in each block.
func (r *reader) followAlong(rough []float64, sounds []sounding) bool {
	r.scaleBy(rough)
	unit := median(rough) / sounds[0].ratio
	// Where they were heard foretells where they are in the next blocks, and there they are heard the
	// next time: before a stop, better than the path does; and where that strayed, it comes back.
	const mostTimes = 12
	for times, before := 0, -1.0; times < mostTimes; times++ {
		old := r.scale.at
		r.traceAll(sounds, unit)
		if len(r.traces) == 0 || !r.combine() {
			return false
		}
		heard := 0.0
		for _, t := range r.traces {
			heard += t.heard
		}
		if heard <= before && floats.Distance(old, r.scale.at, math.Inf(1))*math.Abs(unit*sounds[0].ratio) < r.frames(0.1e-3) {
			break
		}
		before = math.Max(before, heard)
	}
	r.profile()
	return true
}

// followsReflections reports whether one of the traces is of a reflection: one is nearer
// to it than any of the movement's own sounds.
func (r *reader) followsReflections() bool {
	return slices.ContainsFunc(r.traces, func(t trace) bool {
		nearest := func(as []arrival) float64 {
			least := math.Inf(1)
			for _, a := range as {
				least = math.Min(least, math.Abs(a.at-t.ratio))
			}
			return least
		}
		return nearest(r.reflected[t.side]) < nearest(r.found[t.side])
	})
}

// traceAll follows several sounds, whose places in the middle of the run are their ratios
// times unit, from where the lift says that they are.
func (r *reader) traceAll(sounds []sounding, unit float64) {
	all := make([]*trace, len(sounds))
	parallel.Each(len(sounds), func(i int) {
		snd := sounds[i]
		rough := make([]float64, len(r.scale.at))
		for k, g := range r.scale.at {
			rough[k] = snd.ratio * unit * g
		}
		if c, ok := r.sheet.trace(snd.side, rough); ok {
			e := r.edge(snd.side, c.heardAt())
			c.shift(e.at)
			all[i] = &trace{sounding{snd.side, snd.ratio * unit, snd.power}, c, e.se}
		}
	})
	r.traces = nil
	for _, t := range all {
		if t != nil {
			r.traces = append(r.traces, *t)
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

// profile lays all blocks over each other and finds the sounds, and what reflects them.
func (r *reader) profile() {
	r.outlines = r.outlineBoth(r.scale.at)
	for side := range r.found {
		r.found[side], r.reflected[side] = r.withoutReflections(r.arrivals(side, r.outlines))
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
	course := make([][]float64, len(r.traces)) // where each should be
	for i, t := range r.traces {
		course[i] = t.at
	}
	for range 2 {
		errors := make([][]float64, len(r.traces))
		for i := range r.traces {
			t := &r.traces[i]
			errors[i] = t.errors(course[i])
			var sum, weight float64
			for k, se := range errors[i] {
				if !math.IsNaN(se) {
					w := r.scale.at[k] * r.scale.at[k] / (se * se)
					sum += w * t.matches[k].at / r.scale.at[k]
					weight += w
				}
			}
			t.ratio = sum / weight
		}
		ms := make([]match, len(r.scale.at))
		for k := range ms {
			var sum, weight float64
			for i, t := range r.traces {
				if m, se := t.matches[k], errors[i][k]; !math.IsNaN(se) && math.Abs(m.at-t.at[k]) < r.frames(0.4e-3) {
					w := t.ratio * t.ratio / (se * se)
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
		for i, t := range r.traces {
			course[i] = make([]float64, len(c.at))
			for k, v := range c.at {
				course[i][k] = t.ratio * v
			}
		}
	}
	return true
}

// errors returns the standard errors of the matches of a contact that should be in the
// places given, NaN where it was not heard: never less than how they scatter about these,
// because a sound that rings resembles itself a period of its ringing away, which its
// bound in the room's noise doesn't know.
func (c *course) errors(at []float64) []float64 {
	var z []float64
	for k, m := range c.matches {
		if !math.IsNaN(m.snr) {
			z = append(z, math.Abs(m.at-at[k])/m.se)
		}
	}
	const (
		ofMedian = 0.6745 // standard deviations of a normal distribution, the median magnitude
		outlying = 3      // of them; what is farther off is off by as much
	)
	wider := math.Max(1, stats.Median(z)/ofMedian)
	out := make([]float64, len(at))
	for k, m := range c.matches {
		out[k] = math.NaN()
		if !math.IsNaN(m.snr) {
			out[k] = math.Max(wider*m.se, math.Abs(m.at-at[k])/outlying)
		}
	}
	return out
}
