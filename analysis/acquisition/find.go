package acquisition

import (
	"cmp"
	"context"
	"math"
	"slices"

	"rundown/dsp/filter"
	"rundown/dsp/parallel"
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

// weigh makes t more probable if its period is the nominal one, or that of a customary count
// where none is known.
func (o *Options) weigh(s *stretch, t *trial) *trial {
	if o.near(t.period * s.w.every) {
		t.prior += math.Ln10 * nominalOdds
	} else if _, near := NearestCustomary(7200 * t.perSec / t.period); near && o.Period == 0 {
		t.prior += math.Ln10 * customaryOdds
	}
	return t
}

// customary lists the customary counts of beats per hour (common practice).
var customary = []float64{3600, 7200, 9000, 12000, 14400, 16200, 18000, 19800, 21600, 25200, 28800, 36000}

// NearestCustomary returns the customary count of beats an hour nearest to one, and whether
// that lies within half a percent of it: movements run as near as that to their nominal
// count.
func NearestCustomary(perHour float64) (count float64, near bool) {
	for _, c := range customary {
		if math.Abs(perHour-c) < math.Abs(perHour-count) {
			count = c
		}
	}
	return count, math.Abs(perHour-count) <= 0.005*count
}

// customaryOdds is the logarithm to base ten of how much more movements have a customary
// count than one as near to any other. Half of them would have it if all counts from 1 200
// to 43 200 were alike else: 12 stretches of a percent are a thirtieth of that.
const customaryOdds = 1.5

// Find looks for a beat in a stretch x of sound at a sample rate in frames a
// second. It returns nil where there is none, or when the context ends.
func Find(ctx context.Context, x []float32, rate float64, opt Options) *Hypothesis {
	if float64(len(x)) < 4*shortestPeriod*rate {
		return nil
	}
	s := newStretch(x, rate)
	s.given = opt.Period / s.w.every / s.block
	if float64(len(x)) < fewSeconds*rate {
		return s.few(x, rate)
	}
	h := s.found(ctx, opt)
	if h == nil {
		s.even = true
		h = s.found(ctx, opt)
	}
	return h
}

// found returns the most probable hypothesis, nil where there is no beat, or when
// the context ends.
func (s *stretch) found(ctx context.Context, opt Options) *Hypothesis {
	trials := s.trials(ctx, opt)
	if len(trials) == 0 || ctx.Err() != nil {
		return nil
	}
	best, next, odds := decide(s.louder(trials))
	if best == nil {
		return nil
	}
	h := &Hypothesis{Period: best.period * s.w.every, Odds: MostOdds}
	h.Clear = evidence(best.blocks, make([]float64, len(best.blocks)))
	for k, marks := range best.marks {
		for _, m := range marks {
			h.Marks[k] = append(h.Marks[k], m*s.w.every)
		}
	}
	if next != nil {
		h.Rival = next.period * s.w.every
		h.Odds = stated(odds)
	}
	least, evenly := leastClear, plainly
	if opt.near(h.Period) {
		least, evenly = least-math.Ln10*nominalOdds-nominalPlaces, hardly
	}
	if h.Clear < least || s.uneven(best, evenly) {
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
	block := filter.BlockFrames(rate)
	bands := filterBank(x, rate, block)
	c, ok := findCadence(bands, rate/float64(block))
	if !ok {
		return nil
	}
	frames := float64(block)
	out := &Hypothesis{Period: c.Period * frames, Clear: -c.LogP}
	t := &trial{period: out.Period / s.w.every, perSec: s.w.perSec, split: math.Mod(c.Phase[1]-c.Phase[0]+c.Period, c.Period) / c.Period}
	for k := range out.Marks {
		for _, at := range onsetsNear(bands[c.Band].Strength, c.Phase[k], c.Period) {
			out.Marks[k] = append(out.Marks[k], at*frames)
		}
		coarse := make([]float64, len(out.Marks[k]))
		for i, m := range out.Marks[k] {
			coarse[i] = m / s.w.every
		}
		t.marks[k] = s.align(coarse, false)
	}
	if len(t.marks[0]) < 3 || len(t.marks[1]) < 3 {
		return out
	}
	s.arrange(t, false)
	s.judge(t, t.beats.profile(2))
	trials := []*trial{t}
	if u := s.alternate(t); u != nil {
		trials = append(trials, u)
	}
	if u := s.try(t.period / 2 / s.block); u != nil {
		trials = append(trials, u)
	}
	if best, next, odds := decide(trials); best == t && next != nil {
		out.Odds, out.Rival = stated(odds), next.period*s.w.every
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
// trials come to, a natural logarithm. Whether they hold is told by .ci/odds.
func stated(odds float64) float64 { return min(max(0, odds/math.Ln10), MostOdds) }

// MostOdds is the logarithm of the greatest odds that are stated, one in a million:
// beyond, what no hypothesis allows for is more probable.
const MostOdds = 6

// leastClear is the logarithm of the odds against no beat from which on there is
// one.
const leastClear = 14.0

// even tells from the cost of placing the beats of a side whether they come
// evenly: noise that is looked through for them scatters all over the reach of an
// alignment, and beats less, by so many nats.
func (w *white) even(cost, by float64) bool { return cost < w.rangeCost()-by }

const (
	hardly  = 0.35 // chance does not reach it with 30 beats
	plainly = 1.0
)

// uneven reports whether the beats of neither side come evenly, by so many nats.
func (s *stretch) uneven(t *trial, by float64) bool {
	least := t.beats.cost[0]
	if c := t.beats.cost[1]; c > 0 { // else they were placed by the other side
		least = min(least, c)
	}
	return !s.w.even(least, by)
}

// family are the multiples and fractions of a period that its sounds may be
// mistaken for.
var family = []float64{1. / 3, 1. / 2, 2. / 3, 1, 3. / 2, 2, 3}

const (
	tried   = 6 // periods are listened to
	opened  = 2 // of them begin as hypotheses
	growths = 4 // times, at most, those like the best are looked into
)

// trials returns the hypotheses: of the clearest periods, and of all that the best
// may be mistaken for.
func (s *stretch) trials(ctx context.Context, opt Options) []*trial {
	from, to := shortestPeriod/2*s.second(), min(longestPeriod*s.second(), float64(len(s.envelope))/2.5)
	var found []candidate
	if s.even {
		found = s.folds(ctx, from, to, tried)
	} else {
		found = candidates(ctx, s.envelope, from, to, 1.01, 800, tried)
	}
	if opt.Period > 0 {
		found = append(found, candidate{period: s.given})
	}
	parallel.Each(len(found), func(i int) {
		if ctx.Err() == nil {
			found[i] = s.screen(found[i].period)
		}
	})
	slices.SortStableFunc(found, func(a, b candidate) int { return cmp.Compare(b.z, a.z) })
	var out []*trial
	var periods []float64 // tried
	grow := func(wanted []float64) bool {
		n := len(periods)
		for _, p := range wanted {
			same := func(q float64) bool { return math.Abs(p/q-1) < 0.005 }
			if p >= from && p <= to && !slices.ContainsFunc(periods, same) {
				periods = append(periods, p)
			}
		}
		out = append(out, s.hypotheses(ctx, periods[n:], opt)...)
		return len(periods) > n
	}
	merged := map[*trial]bool{}
	var first []float64
	for _, c := range found[:min(opened, len(found))] {
		if !math.IsInf(c.z, -1) {
			first = append(first, c.period)
		}
	}
	if i := loudest(found, first); i >= 0 {
		first = append(first, found[i].period)
	}
	if opt.Period > 0 {
		first = append(first, s.given)
	}
	for more, n := grow(first), 0; more && n < growths; n++ {
		best, _, _ := decide(s.louder(out))
		if best == nil {
			break
		}
		var like []float64
		for _, k := range family {
			like = append(like, best.period/s.block*k)
		}
		if !merged[best] {
			merged[best] = true
			for _, u := range s.merge(best) {
				out = append(out, opt.weigh(s, u))
				if v := s.alternate(u); v != nil {
					out = append(out, opt.weigh(s, v))
				}
			}
		}
		more = grow(like)
	}
	return out
}

// hypotheses tries periods, and the beats of one side of each as those of both.
func (s *stretch) hypotheses(ctx context.Context, periods []float64, opt Options) (out []*trial) {
	pairs := make([][2]*trial, len(periods))
	parallel.Each(len(periods), func(i int) {
		if ctx.Err() != nil {
			return
		}
		t := s.try(periods[i])
		if t == nil {
			return
		}
		if periods[i] >= shortestPeriod*s.second() {
			pairs[i][0] = t
		}
		if 2*periods[i] <= longestPeriod*s.second() {
			pairs[i][1] = s.alternate(t)
		}
	})
	for _, p := range pairs {
		for _, t := range p {
			if t == nil {
				continue
			}
			out = append(out, opt.weigh(s, t))
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

// nominalPlaces is the logarithm of how many nominal periods there might be: chance
// has as many fewer to choose from where one is given.
var nominalPlaces = math.Log(math.Log(longestPeriod/shortestPeriod) / (2 * nominalWithin))

// Promise is how clearly something comes evenly in a short stretch of sound, in unknown
// units: whether it is worth a search is told by what held nothing.
func Promise(x []float32, rate float64) float64 {
	if float64(len(x)) < 4*shortestPeriod*rate {
		return 0
	}
	block := 2 * filter.BlockFrames(rate)
	e := filter.NewBand(min(4500, 0.3*rate), 0.35, rate).Blocks(x, block)
	second := rate / float64(block)
	loudness(e, second)
	found := candidates(context.Background(), e, shortestPeriod/2*second, min(longestPeriod*second, float64(len(e))/3), 1.03, 120, 1)
	if len(found) == 0 {
		return 0
	}
	return found[0].z
}
