package acquisition

import (
	"context"
	"fmt"
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

// Find looks for a beat in a stretch x of sound at a sample rate in frames a
// second. It returns nil where there is none, or when the context ends.
func Find(ctx context.Context, x []float32, rate float64, opt Options) *Hypothesis {
	if float64(len(x)) < 4*shortestPeriod*rate {
		return nil
	}
	s := newStretch(x, rate)
	trials := s.trials(ctx, opt)
	if len(trials) == 0 || ctx.Err() != nil {
		return nil
	}
	best, next, odds := decide(trials)
	if best == nil {
		return nil
	}
	h := &Hypothesis{Period: best.period * s.w.every, Odds: min(odds/math.Ln10, mostOdds)}
	h.Clear = evidence(best.blocks, make([]float64, len(best.blocks)))
	for k, marks := range best.marks {
		for _, m := range marks {
			h.Marks[k] = append(h.Marks[k], m*s.w.every)
		}
	}
	if next != nil {
		h.Rival = next.period * s.w.every
	} else {
		h.Odds = mostOdds
	}
	if debugging {
		for _, t := range trials {
			fmt.Printf("  %.4f s split %.2f LL %.1f prior %.1f\n", t.period/s.w.perSec, t.split, sum(t.blocks), t.prior/math.Ln10)
		}
		ll := best.beats.predict(2)
		cells := best.beats.byCell()
		slices.Sort(cells)
		all, part, n90 := sum(cells), 0.0, 0
		for i := len(cells) - 1; i >= 0 && part < 0.9*all; i-- {
			part += cells[i]
			n90++
		}
		capped, good := 0.0, 0
		for _, v := range ll {
			capped += min(v, 5)
			if v > 0 {
				good++
			}
		}
		fmt.Printf("STAT period %.4f s rows %d LL/row %.1f good %.2f capped/row %.2f cost %.1f %.1f occupied %.2f clear %.1f odds %.1f prior %.1f\n", h.Period/rate, len(ll), sum(ll)/float64(len(ll)), float64(good)/float64(len(ll)), capped/float64(len(ll)), best.beats.cost[0], best.beats.cost[1], float64(n90)/float64(len(cells)), h.Clear, odds/math.Ln10, best.prior/math.Ln10)
	}
	if h.Clear < leastClear {
		return nil
	}
	return h
}

// mostOdds is the logarithm of the greatest odds that are stated: beyond, what
// no hypothesis allows for is more probable.
const mostOdds = 12

// leastClear is the logarithm of the odds against no beat from which on there is
// one.
const leastClear = 14

// family are the multiples and fractions of a period that its sounds may be
// mistaken for.
var family = []float64{1. / 3, 1. / 2, 2. / 3, 1, 3. / 2, 2, 3}

// tried is how many periods are listened to.
const tried = 6

// trials returns the hypotheses.
func (s *stretch) trials(ctx context.Context, opt Options) []*trial {
	from, to := shortestPeriod/2*s.second(), min(longestPeriod*s.second(), float64(len(s.envelope))/3)
	found := candidates(s.envelope, from, to, tried)
	if opt.Period > 0 {
		found = append(found, candidate{period: opt.Period / s.w.every / s.block})
	}
	clarity := make([]float64, len(found))
	parallel(len(found), func(i int) {
		if ctx.Err() == nil {
			clarity[i] = s.glance(found[i].period)
		}
	})
	top := -1
	for i, c := range clarity {
		if c > 0 && (top < 0 || c > clarity[top]) {
			top = i
		}
	}
	if top < 0 {
		return nil
	}
	pairs := make([][2]*trial, len(family))
	parallel(len(family), func(i int) {
		p := found[top].period * family[i]
		if p < from || p > to || ctx.Err() != nil {
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
			if opt.Period > 0 && math.Abs(t.period*s.w.every/opt.Period-1) < nominalWithin {
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

var debugging bool
