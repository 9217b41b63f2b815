package fault

import (
	"math"
	"math/big"

	"rundown/dsp/stats"
)

const (
	// ways is the number of ways in which periods are looked for: those of the
	// train, whole numbers of beats, and any number of beats; at one phase and at
	// two; of events of three groups and of spikes.
	ways = 3 * 2 * (nGroups + 1)
	// longestWhole is the longest period tried in whole beats; longer ones are
	// found in wider windows.
	longestWhole = 1000
	// fewestTurns is how often a period must have come round.
	fewestTurns = 4
	// fewest is the number of events that make a recurrence.
	fewest = 4
	// apartBeats is how many beats at least lie between two windows. What is
	// nearer is one phase, and some events put down to a neighbouring beat.
	apartBeats = 2
	// maxBins bounds the parts of a turn in which events are counted.
	maxBins = 1 << 16
	// anyBins is the number of parts of a turn in which events are counted where
	// the period may be any, anySpan how many of them make a window.
	anyBins, anySpan = 64, 2
)

// scan looks for the period at which events return. Under chance an event falls
// into a window of w beats of a period P with probability w/P, and the number
// that do is binomial. For every period the windows with the most events are
// held against that, and the least likely period wins. A true period is thereby
// preferred to its fractions, in which the events concentrate as well, but less
// surprisingly, and to its multiples, over whose phases they scatter.
type scan struct {
	beats  []int64 // of the events, ascending, counted from the first beat of the run
	length int64   // beats in the run
	hist   []int32
	turn   []int64 // the last turn that is counted in each bin
	filled []int   // the bins with events
	train  []part
	best   coincidence
}

// newScan prepares for events at the given beats of a run of the given length.
// Of very many events an even choice is looked at.
func newScan(beats []int64, length int64) *scan {
	const most, bins = 2000, maxBins
	return &scan{
		beats:  thin(beats, most),
		length: length,
		hist:   make([]int32, bins),
		turn:   make([]int64, bins),
		best:   coincidence{part: -1},
	}
}

// parts tries the periods of a train: at one beat and three, and at the width
// of one tooth.
func (s *scan) parts(parts []part) {
	s.train = parts
	tries := math.Log(float64(3 * len(parts)))
	for i, p := range parts {
		if p.period*fewestTurns > float64(s.length) {
			continue
		}
		s.part(i, p, tries)
	}
}

func (s *scan) part(i int, p part, tries float64) {
	if bins := int(math.Round(p.period)); bins <= maxBins {
		s.try(p.period, bins, 1, tries, i, p.share(bins, 1))
		s.try(p.period, bins, 3, tries, i, p.share(bins, 3))
	}
	if perTooth := p.period / float64(p.Teeth); p.Teeth > 4 && perTooth > 3 {
		s.try(p.period, 2*p.Teeth, 2, tries, i, p.share(2*p.Teeth, 2))
	}
}

// share is the greatest part of all beats that fall into one window. The beats
// of a period a/b have the phases 0, 1/b … (a-1)/b, which don't divide evenly.
func (p part) share(bins, span int) float64 {
	a, _ := new(big.Float).SetInt(p.Beats.Num()).Float64()
	return math.Ceil(a*float64(span)/float64(bins)) / a
}

// whole tries every whole number of beats up to longestWhole, and the multiples
// of the best one.
func (s *scan) whole() {
	const short, enough = 300, 400
	all, before := s.beats, s.best.logp
	longest := int(min(maxBins, s.length/fewestTurns))
	for p := 2; p <= min(longest, longestWhole); p++ {
		if p > short {
			s.beats = thin(all, enough)
		}
		s.wholePeriod(p)
	}
	s.beats = all
	if s.best.logp < before {
		base := int(s.best.period)
		for p := 2 * base; p <= longest; p += base {
			s.wholePeriod(p)
		}
		if s.best = s.named(s.best.halved()); s.best.period > short {
			s.best = s.best.sharpened(s.beats)
		}
	}
}

// named returns c as of the part of the train that comes round with its period, as far as
// the run tells periods apart; as it is where there is none.
func (s *scan) named(c coincidence) coincidence {
	for i, p := range s.train {
		if math.Abs(1/p.period-1/c.period)*float64(s.length) < 0.5 {
			c.period, c.part = p.period, i
			return c
		}
	}
	return c
}

// wholePeriod tries a period of p beats. The p-values are weighted by the inverse
// of the period, since short ones, those of escape wheels, are the likelier ones:
// the period is charged with p·ln(maxBins) tries.
func (s *scan) wholePeriod(p int) {
	tries := math.Log(2 * float64(p) * math.Log(maxBins))
	s.try(float64(p), p, 1, tries, -1, 1/float64(p))
	s.try(float64(p), p, 3, tries, -1, 3/float64(p))
}

// any tries periods of any length in windows of a thirty-second of a turn, so
// finely that over the run an event stays in its window.
func (s *scan) any() {
	const shortest, most, enough = 64, 40_000, 100
	perFreq := 2 * anyBins * float64(s.length) // frequencies in one cycle per beat
	low := fewestTurns / float64(s.length)
	high := min(1/float64(shortest), low+most/perFreq)
	n := int((high - low) * perFreq)
	if n < 1 {
		return
	}
	all := s.beats
	s.beats = thin(all, enough)
	tries := math.Log(float64(n))
	before := s.best.logp
	for k := range n {
		s.try(1/(low+float64(k)/perFreq), anyBins, anySpan, tries, -1, float64(anySpan)/anyBins)
	}
	s.beats = all
	if s.best.logp < before {
		s.best = s.named(s.best.sharpened(s.beats).halved().longest(s.beats, s.length))
	}
}

// thin returns n of the beats, evenly chosen, or all where there are no more.
func thin(beats []int64, n int) []int64 {
	if len(beats) <= n {
		return beats
	}
	out := make([]int64, n)
	for i := range out {
		out[i] = beats[i*len(beats)/n]
	}
	return out
}

// try weighs one period, divided into bins of which span make a window, into
// which chance puts the given share of the events.
func (s *scan) try(period float64, bins, span int, tries float64, part int, share float64) {
	if bins < 2*span || len(s.beats) < fewest {
		return
	}
	total := s.fill(period, bins)
	tries += math.Log(ways)
	first, count := s.peak(bins, span, -1, 0)
	s.weigh(total, count, share, tries+stats.LogChoose(bins, 1), func() coincidence {
		return s.describe(period, bins, span, part, first)
	})
	if both := tries + stats.LogChoose(bins, 2); 2*share <= 0.5 && s.promising(total, 2*count, 2*share, both) {
		second, more := s.peak(bins, span, first, span+int(apartBeats*float64(bins)/period))
		s.weigh(total, count+more, 2*share, both, func() coincidence {
			return s.describe(period, bins, span, part, first, second)
		})
	}
}

// weigh keeps a coincidence if it is less likely than the best so far: of total
// events, count fell where chance puts the given share.
func (s *scan) weigh(total, count int, share, tries float64, found func() coincidence) {
	if count < fewest || !s.promising(total, count, share, tries) {
		return
	}
	if logp := stats.LogBinomialTail(total, count, share) + tries; logp < s.best.logp {
		s.best = found()
		s.best.logp = logp
	}
}

// promising reports, quickly, whether weigh might keep a coincidence. The binomial
// tail is at least exp(-n·D) / sqrt(8n·q(1-q)), where q is the share found and D
// its Kullback-Leibler divergence from the share expected (R. B. Ash,
// Information Theory, 1965, section 4.7; from memory).
func (s *scan) promising(total, count int, share, tries float64) bool {
	n, c := float64(total), float64(min(count, total))
	if c <= n*share {
		return false
	}
	least := c * math.Log(n*share/c)
	if c < n {
		least += (n-c)*math.Log(n*(1-share)/(n-c)) - 0.5*math.Log(8*c*(1-c/n))
	}
	return least+tries < s.best.logp
}

// describe describes the coincidence in windows given by their first bins.
func (s *scan) describe(period float64, bins, span, part int, windows ...int) coincidence {
	width := period / float64(bins)
	c := coincidence{period: period, window: float64(span) * width, part: part}
	for _, b := range windows {
		// Phases are those of whole beats, which have them at the lower end of
		// a bin that is one beat wide.
		middle := (float64(b)+float64(span)/2)*width - min(width, 1)/2
		c.phases = append(c.phases, math.Mod(middle, period))
	}
	return c
}

// fill counts the events by their phase, at most one a turn in each bin so that
// a burst doesn't count as a return, and returns how many it counted.
func (s *scan) fill(period float64, bins int) int {
	for _, b := range s.filled {
		s.hist[b] = 0
	}
	s.filled = s.filled[:0]
	total := 0
	for _, b := range s.beats {
		turns := float64(b)/period + 1e-9
		turn := int64(turns)
		bin := min(int((turns-float64(turn))*float64(bins)), bins-1)
		switch {
		case s.hist[bin] == 0:
			s.filled = append(s.filled, bin)
		case s.turn[bin] == turn:
			continue
		}
		s.turn[bin] = turn
		s.hist[bin]++
		total++
	}
	return total
}

// window counts the events in the span bins from at on.
func (s *scan) window(at, bins, span int) int {
	n := 0
	for range span {
		n += int(s.hist[at])
		if at++; at == bins {
			at = 0
		}
	}
	return n
}

// peak returns the window with the most events, by its first bin, and their
// number. It is at least some bins apart from the one that begins at bin other, if
// that is not negative.
func (s *scan) peak(bins, span, other, apart int) (top, most int) {
	for _, b := range s.filled {
		for back := range span {
			at := b - back
			if at < 0 {
				at += bins
			}
			if d := at - other; other >= 0 && (max(d, -d) < apart || max(d, -d) > bins-apart) {
				continue
			}
			if n := s.window(at, bins, span); n > most || n == most && at < top {
				top, most = at, n
			}
		}
	}
	return top, most
}
