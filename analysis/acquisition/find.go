package acquisition

import (
	"context"
	"math"
	"slices"
)

// Hypothesis is a beat that was found in a stretch of sound.
type Hypothesis struct {
	Period float64 // of the oscillator, two beats, in frames
	// Marks are instants of the beats of both sides, in frames from the start of
	// the stretch: of each side one and the same sound, NaN where it was not
	// heard.
	Marks [2][]float64
	Odds  float64 // log10 of the odds against the next best count
	Rival float64 // its period in frames; 0 where there is none
	Clear float64 // natural logarithm of the odds against there being no beat
}

// Options are what is known of a movement. The zero value serves.
type Options struct {
	Period float64 // the nominal period in frames, 0 where it is not known
}

// near tells whether a period, in frames, is the nominal one.
func (o *Options) near(period float64) bool {
	return o.Period > 0 && math.Abs(period/o.Period-1) < nominalWithin
}

// Find looks for a beat in a stretch x of sound at a sample rate in frames a
// second. It returns nil where there is none, or when the context ends.
func Find(ctx context.Context, x []float32, rate float64, opt Options) *Hypothesis {
	if float64(len(x)) < 4*shortestPeriod*rate {
		return nil
	}
	s := newStretch(x, rate)
	if float64(len(x)) < fewSeconds*rate {
		return s.few(x, rate)
	}
	trials := s.trials(ctx, opt)
	if len(trials) == 0 || ctx.Err() != nil {
		return nil
	}
	best, next, odds := decide(s.louder(trials))
	if best == nil {
		return nil
	}
	h := &Hypothesis{Period: best.period * s.w.every, Odds: mostOdds}
	h.Clear = evidence(best.blocks, make([]float64, len(best.blocks)))
	for k, marks := range best.marks {
		for _, m := range marks {
			h.Marks[k] = append(h.Marks[k], m*s.w.every)
		}
	}
	if next != nil {
		h.Rival = next.period * s.w.every
		h.Odds = stated(odds, best.period, next.period)
	}
	least := leastClear
	if opt.near(h.Period) {
		least -= math.Ln10 * nominalOdds
	}
	if h.Clear < least || min(best.beats.cost[0], nonzero(best.beats.cost[1])) > mostUneven {
		return nil
	}
	return h
}

// fewSeconds is how long a stretch is, at least, of which the sound is learned
// without knowing the period: among few beats, noise is too much like itself.
const fewSeconds = 20

// few is Find for a stretch of few beats: the period is that at which onsets
// repeat.
func (s *stretch) few(x []float32, rate float64) *Hypothesis {
	h := newHearing(rate)
	h.listen(x)
	c, ok := findCadence(h.bands, h.perSecond())
	if !ok {
		return nil
	}
	frames := float64(h.block)
	out := &Hypothesis{Period: c.Period * frames, Clear: -c.LogP}
	t := &trial{period: out.Period / s.w.every, perSec: s.w.perSec, split: math.Mod(c.Phase[1]-c.Phase[0]+c.Period, c.Period) / c.Period}
	for k := range out.Marks {
		for _, at := range onsetsNear(h.bands[c.Band].Strength, c.Phase[k], c.Period) {
			out.Marks[k] = append(out.Marks[k], at*frames)
		}
		coarse := make([]float64, len(out.Marks[k]))
		for i, m := range out.Marks[k] {
			coarse[i] = m / s.w.every
		}
		t.marks[k] = s.w.align(coarse).marks
	}
	if len(t.marks[0]) < 3 || len(t.marks[1]) < 3 {
		return out
	}
	s.arrange(t, false)
	s.judge(t)
	trials := []*trial{t}
	if u := s.alternate(t); u != nil {
		trials = append(trials, u)
	}
	if u := s.try(t.period / 2 / s.block); u != nil {
		trials = append(trials, u)
	}
	if best, next, odds := decide(trials); best == t && next != nil {
		out.Odds, out.Rival = stated(odds, t.period, next.period), next.period*s.w.every
	} else if best != t {
		out.Rival = best.period * s.w.every
	}
	return out
}

// onsetsNear returns the strongest onset near each multiple of a period from a
// phase.
func onsetsNear(strength []float32, phase, period float64) []float64 {
	reach := max(3, int(0.02*period))
	var out []float64
	for at := phase; at < float64(len(strength)-1); at += period {
		lo, hi := max(0, int(at)-reach), min(len(strength)-1, int(at)+reach)
		p := lo
		for i := lo; i <= hi; i++ {
			if strength[i] > strength[p] {
				p = i
			}
		}
		out = append(out, float64(p))
	}
	return out
}

// stated returns the odds, as powers of ten, that are given of those that the
// trials come to, a natural logarithm: the part of temper, and of odds against
// twice the count doubt is taken off first.
func stated(odds, period, rival float64) float64 {
	ten := odds / math.Ln10
	if halves(period, rival) {
		ten -= doubt
	}
	return min(max(0, temper*ten), mostOdds)
}

// halves tells whether a period's rival is half of it.
func halves(period, rival float64) bool { return math.Abs(rival/period-0.5) < 0.01 }

// doubt is what the odds against a silent side are worth less to the truth of a
// count than to the choice of it: where one side is hardly heard, it is the room
// that hides it, and the other count as often as not. Of 66 movements that
// were found of 100 drawn by .ci/odds, the 11 wrong counts were all half of the
// true one, at odds of 0.3 to 3.3 before this is taken off.
const doubt = oneSided

// temper is which part of the powers of ten is stated, to be on the safe side: of
// 27 found of the draws from the 100th on, one wrong count had odds of 10^4.
const temper = 0.5

// OneSided is the logarithm of the odds, as given, below which nothing tells the
// beats of both sides apart.
const OneSided = 0.1 * temper

// mostOdds is the logarithm of the greatest odds that are stated: beyond, what
// no hypothesis allows for is more probable.
const mostOdds = 12

// leastClear is the logarithm of the odds against no beat from which on there is
// one.
const leastClear = 14.0

// mostUneven is the greatest cost of placing beats that come evenly: noise that
// is looked through for them costs 4.4 to 5 (white noise of 5 to 120 s).
const mostUneven = 4

// nonzero is the cost of placing a side that was placed by the other one.
func nonzero(cost float64) float64 {
	if cost == 0 {
		return rangeCost
	}
	return cost
}

// family are the multiples and fractions of a period that its sounds may be
// mistaken for.
var family = []float64{1. / 3, 1. / 2, 2. / 3, 1, 3. / 2, 2, 3}

// tried is how many periods are listened to.
const tried = 6

// trials returns the hypotheses.
func (s *stretch) trials(ctx context.Context, opt Options) []*trial {
	from, to := shortestPeriod/2*s.second(), min(longestPeriod*s.second(), float64(len(s.envelope))/2.5)
	found := candidates(s.envelope, from, to, tried)
	if opt.Period > 0 {
		found = append(found, candidate{period: opt.Period / s.w.every / s.block})
	}
	clarity, levels := make([]float64, len(found)), make([]float64, len(found))
	parallel(len(found), func(i int) {
		if ctx.Err() == nil {
			clarity[i], levels[i] = s.glance(found[i].period)
		}
	})
	tops := []int{0}
	for i, c := range clarity {
		if last := len(tops) - 1; c > clarity[tops[last]] {
			tops = append(tops[:1], i)
		}
	}
	if i := s.loudest(found, clarity, levels, tops); i >= 0 {
		tops = append(tops, i)
	}
	var periods []float64
	for _, top := range tops {
		for _, k := range family {
			p := found[top].period * k
			same := func(q float64) bool { return math.Abs(p/q-1) < 0.02 }
			if p >= from && p <= to && !slices.ContainsFunc(periods, same) {
				periods = append(periods, p)
			}
		}
	}
	pairs := make([][2]*trial, len(periods))
	parallel(len(periods), func(i int) {
		p := periods[i]
		if ctx.Err() != nil {
			return
		}
		t := s.try(p)
		if t == nil {
			return
		}
		if p >= shortestPeriod*s.second() {
			pairs[i][0] = t
		}
		if 2*p <= longestPeriod*s.second() {
			pairs[i][1] = s.alternate(t)
		}
	})
	var out []*trial
	for _, p := range pairs {
		for _, t := range p {
			if t == nil {
				continue
			}
			if opt.near(t.period * s.w.every) {
				t.prior += math.Ln10 * nominalOdds
			}
			out = append(out, t)
		}
	}
	return out
}

// A movement runs within nominalWithin of its nominal count; that this was given
// wrongly has odds of one to ten to the nominalOdds.
const (
	nominalWithin = 0.02
	nominalOdds   = 3
)

// Promising tells whether anything comes evenly in a short stretch of sound, and
// so whether it is worth a search.
func Promising(x []float32, rate float64) bool {
	if float64(len(x)) < 4*shortestPeriod*rate {
		return false
	}
	s := newStretch(x, rate)
	found := candidates(s.envelope, shortestPeriod/2*s.second(), min(longestPeriod*s.second(), float64(len(s.envelope))/3), 1)
	return len(found) > 0 && found[0].z > leastPromise
}

const leastPromise = 1.5
