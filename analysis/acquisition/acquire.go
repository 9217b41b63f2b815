package acquisition

import (
	"math"
	"slices"
	"sync"

	"rundown/dsp/onset"
)

// stretch is sound in which a beat is looked for.
type stretch struct {
	w        white
	envelope []float32 // how much louder than the room, in nats, by milliseconds
	block    float64   // samples of w a value of the envelope
	even     bool      // beats are looked for where they come exactly evenly
	given    float64   // the nominal period, values of the envelope; 0 where it is not known

	mutex   sync.Mutex
	aligned []alignment // in the order in which they came, which nothing depends on
}

// alignment is what coarse places became: hypotheses have many of them in common.
type alignment struct {
	coarse []float64
	given  bool
	marks  []float64
}

// align returns the marks of coarse places, once for all hypotheses that have the same.
func (s *stretch) align(coarse []float64, given bool) []float64 {
	alike := func(p, q float64) bool { return p == q || math.IsNaN(p) && math.IsNaN(q) }
	same := func(a alignment) bool { return a.given == given && slices.EqualFunc(a.coarse, coarse, alike) }
	s.mutex.Lock()
	before := s.aligned
	s.mutex.Unlock()
	if i := slices.IndexFunc(before, same); i >= 0 {
		return before[i].marks
	}
	a := alignment{coarse, given, s.w.align(coarse, given).marks}
	s.mutex.Lock()
	s.aligned = append(s.aligned, a)
	s.mutex.Unlock()
	return a.marks
}

// second is how many values the envelope has a second.
func (s *stretch) second() float64 { return s.w.perSec / s.block }

func newStretch(x []float32, rate float64) *stretch {
	s := &stretch{w: whiten(x, rate)}
	n := int(s.w.perSec/1000 + 0.5)
	s.block = float64(n)
	e := make([]float32, len(s.w.x)/n)
	for i := range e {
		row := s.w.x[i*n:][:n]
		e[i] = dot(row, row)
	}
	loudness(e, s.second())
	s.envelope = e
	return s
}

// loudness turns energies, so many a second, into how much louder than the room
// they are, in nats.
func loudness(e []float32, perSecond float64) {
	var mean float32
	for _, v := range e {
		mean += v / float32(len(e))
	}
	for i, f := range onset.Floor(nil, e, perSecond) {
		f = max(f, faintest*mean) // clicks that were made have silence between them
		if f > 0 && e[i] > f {
			v := float32(math.Log(float64(e[i] / f)))
			e[i] = min(v, loudEnough) + beyond*max(0, v-loudEnough)
		} else {
			e[i] = 0
		}
	}
}

// faintest is which part of the mean power the room has at least.
const faintest = 1e-4

// beyond is what each nat beyond loudEnough counts: so little that a slammed door
// weighs hardly more than a beat, but enough to tell where a loud beat is loudest.
const beyond = 0.1

// trial is a hypothesis: a period, and where the beats of both sides are.
type trial struct {
	period float64 // samples
	perSec float64
	marks  [2][]float64
	split  float64
	beats  rows      // of both sides in turn
	blocks []float64 // log-likelihood by seconds
	alone  float64   // logarithm of the odds that the sounds of the first side are of one, by how evenly they come
	prior  float64   // natural logarithm of how probable such a pattern of sounds is
}

// coarse returns about where the sounds are that come every period.
func (s *stretch) coarse(period float64) []float64 {
	if s.even {
		return s.evenly(period)
	}
	p := path(s.envelope, period, math.MaxInt)
	if len(p) > 2 {
		p = path(s.envelope, float64(p[len(p)-1]-p[0])/float64(len(p)-1), math.MaxInt)
	}
	out := make([]float64, len(p))
	for i, v := range p {
		out[i] = float64(v) * s.block
	}
	return out
}

// screen returns a candidate's period as the beats of one side have it, with their
// log-likelihood for z, less than any where they come unevenly, and how loud that is.
func (s *stretch) screen(q float64) candidate {
	marks := s.align(s.coarse(q), false)
	cost := s.w.placing(marks)
	if !s.w.even(cost, hardly) {
		return candidate{q, math.Inf(-1), 0}
	}
	period := meanStep(marks, q*s.block)
	r := s.w.rows(marks, -0.16*period, 0.84*period)
	r.cost = [2]float64{cost, cost}
	return candidate{period / s.block, sum(r.profile(1).rows), s.level(marks)}
}

// try aligns both sides.
func (s *stretch) try(period float64) *trial {
	given := s.given > 0 && math.Abs(period/s.given-1) < nominalWithin
	return s.both(s.align(s.coarse(period), given), period*s.block)
}

// merge returns hypotheses by which the sounds of both sides of t are all of one: as
// they are, and as those of either side have them, which may be marked by other
// sounds of a beat than those of the other.
func (s *stretch) merge(t *trial) (out []*trial) {
	half := t.period / 2
	if math.Abs(t.split-0.5) > 0.1 || half < shortestPeriod*s.w.perSec {
		return nil
	}
	var all []float64
	for i := range min(len(t.marks[0]), len(t.marks[1])) {
		all = append(all, t.marks[0][i], t.marks[1][i])
	}
	ways := [][]float64{all}
	for _, marks := range t.marks {
		var halved []float64
		for _, m := range marks {
			halved = append(halved, m, m+half)
		}
		ways = append(ways, s.align(halved, false))
	}
	for _, marks := range ways {
		if u := s.both(marks, half); u != nil {
			out = append(out, u)
		}
	}
	return out
}

// both finds the other side of beats of a period.
func (s *stretch) both(marks []float64, period float64) *trial {
	t := &trial{period: period, perSec: s.w.perSec}
	t.marks[0] = marks
	if len(t.marks[0]) < 3 {
		return nil
	}
	t.period = meanStep(t.marks[0], t.period)
	best := math.Inf(-1)
	var told profile
	x := s.envelope
	for _, split := range s.splits(t, x) {
		even := make([]float64, len(t.marks[0]))
		for i, m := range t.marks[0] {
			even[i] = m + split*t.period
		}
		for _, marks := range [][]float64{s.align(even, false), even} {
			u := *t
			u.split, u.marks[1] = split, marks
			if marks != nil {
				s.arrange(&u, false)
				if &marks[0] == &even[0] {
					u.beats.cost[1] = 0
				}
				p := u.beats.profile(2)
				if ll := sum(p.rows); ll > best {
					best, *t, told = ll, u, p
				}
			}
		}
	}
	if t.marks[1] == nil {
		return nil
	}
	s.judge(t, told)
	t.beats.x = nil // it is much
	return t
}

func sum(x []float64) (s float64) {
	for _, v := range x {
		s += v
	}
	return s
}

// meanStep returns the usual step of marks, of which every other one may be late.
func meanStep(m []float64, usual float64) float64 {
	var d []float64
	for i := 2; i < len(m); i++ {
		if v := (m[i] - m[i-2]) / 2; !math.IsNaN(v) {
			d = append(d, v)
		}
	}
	if len(d) == 0 {
		return usual
	}
	return median(d)
}

// splits returns where the other side may be, in parts of a period.
func (s *stretch) splits(t *trial, x []float32) []float64 {
	n := int(t.period / s.block)
	mean := make([]float64, n)
	for _, m := range t.marks[0] {
		at := int(m/s.block + 0.5)
		if math.IsNaN(m) || at+n > len(x) || at < 0 {
			continue
		}
		for i := range mean {
			mean[i] += float64(x[at+i])
		}
	}
	p := int(0.31 * float64(n))
	for i := p; float64(i) < 0.69*float64(n); i++ {
		if mean[i] > mean[p] {
			p = i
		}
	}
	out := []float64{float64(p) / float64(n)}
	r := s.w.rows(t.marks[0], 0.31*t.period, 0.69*t.period)
	both := r.profile(1).cells
	cells := both[0]
	for i, v := range both[1] {
		cells[i] += v
	}
	q := 0
	for i, v := range cells {
		if v > cells[q] {
			q = i
		}
	}
	other := 0.31 + (float64(q)+0.5)*float64(r.cell)/t.period
	if math.Abs(other-out[0])*t.period > 0.004*s.w.perSec {
		out = append(out, other)
	}
	return out
}

// arrange makes rows of the beats of both sides, in order, none of which reaches
// into the next.
func (s *stretch) arrange(t *trial, same bool) {
	marks, split := t.marks[1], t.split
	lead := s.lead(t)
	reach := func() float64 { return min(split, 1-split)*t.period - lead }
	// The other side's mark may be of another sound.
	if !same {
		to := min(reach(), 0.125*t.period)
		a, b := s.w.meanRow(t.marks[0], -lead, to), s.w.meanRow(marks, -lead, to)
		by := float64(shiftBetween(a, b, int(0.012*s.w.perSec)))
		marks = slices.Clone(marks)
		for i := range marks {
			marks[i] += by
		}
		split += by / t.period
	}
	a, b := s.w.rows(t.marks[0], -lead, reach()), s.w.rows(marks, -lead, reach())
	t.beats = rows{cell: a.cell, cells: a.cells, half: a.half, cost: [2]float64{s.w.placing(t.marks[0]), s.w.placing(t.marks[1])}}
	for i := range min(len(a.x), len(b.x)) {
		t.beats.x = append(t.beats.x, a.x[i], b.x[i])
		t.beats.at = append(t.beats.at, a.at[i], b.at[i])
	}
}

// lead is how many samples before its mark a beat's row begins: whole cells, so
// that the sounds lie in them alike under all hypotheses.
func (s *stretch) lead(t *trial) float64 {
	cell := float64(int(cellSeconds * s.w.perSec))
	return cell * math.Floor(min(0.16*t.period, 0.1*s.w.perSec)/cell)
}

// shiftBetween returns by how many samples b is later than a.
func shiftBetween(a, b []float32, reach int) int {
	best, at := float32(math.Inf(-1)), 0
	for d := -reach; d <= reach; d++ {
		var c float32
		if d >= 0 && d < len(b) {
			c = dot(a[:len(a)-d], b[d:])
		} else if -d < len(a) {
			c = dot(a[-d:], b[:len(b)+d])
		}
		if c > best {
			best, at = c, d
		}
	}
	return at
}

// blockSeconds is how much sound is one piece of evidence: a second, less of a
// short stretch.
func (s *stretch) blockSeconds() float64 {
	return max(0.25, min(1, float64(len(s.w.x))/s.w.perSec/40))
}

// byTime sums by blocks of time.
func (s *stretch) byTime(r *rows, ll []float64) []float64 {
	block := s.blockSeconds() * s.w.perSec
	out := make([]float64, int(float64(len(s.w.x))/block)+1)
	for k, v := range ll {
		if r.x[k] != nil {
			out[int(r.at[k]/block)] += v
		}
	}
	return out
}

// evidence returns the natural logarithm of the odds for a against b, both
// log-likelihoods of the same blocks of time: of the sum of their differences
// no more than the differences' scatter allows (Student's profile likelihood).
func evidence(a, b []float64) float64 {
	var mean, square, n float64
	for i, v := range a {
		d := v - b[i]
		mean += d
		square += d * d
		n++
	}
	mean /= n
	v := (square - n*mean*mean) / (n - 1)
	if v <= 0 {
		return 0
	}
	t2 := mean * mean * n / v
	e := min(n/2*math.Log1p(t2/(n-1)), math.Abs(mean)*n)
	return math.Copysign(e, mean)
}

// shares returns how clearly the weaker side sets in against the stronger, and
// how clearly another sound does against them.
func (s *stretch) shares(t *trial, cells [2][]float64) (weaker, rise float64) {
	n := float64(len(t.beats.x)) / 2
	mark := int(s.lead(t)) / t.beats.cell
	beat := int(0.125*t.period) / t.beats.cell // how far from its mark a beat may reach
	var side [2]float64
	peak := 1e-9
	for k, c := range cells {
		usual := median(c)
		from, to := max(0, mark-beat), min(len(c), mark+beat)
		for _, v := range c[from:to] {
			side[k] += v - usual
			peak = max(peak, v)
		}
		// Were the marks looked for, noise would fit as well.
		side[k] -= s.w.rangeCost() * n
	}
	for _, c := range cells {
		low := peak
		for i := mark; i < len(c); i++ {
			if low = min(low, c[i]); i >= mark+beat {
				rise = max(rise, (c[i]-low)/peak)
			}
		}
	}
	// What is fainter than the faintest that counts may be hidden.
	strong := max(side[0], side[1], leastClear)
	return max(min(side[0], side[1]), leastClear) / strong, rise
}

// alternate is the hypothesis that the sounds of one side of t are of both in
// turn.
func (s *stretch) alternate(t *trial) *trial {
	u := &trial{period: 2 * t.period, perSec: t.perSec, split: 0.5}
	m := t.marks[0]
	for i := 0; i+1 < len(m); i += 2 {
		u.marks[0], u.marks[1] = append(u.marks[0], m[i]), append(u.marks[1], m[i+1])
	}
	if len(u.marks[0]) < 3 {
		return nil
	}
	var d []float64
	for i, v := range u.marks[0] {
		if g := u.marks[1][i] - v; !math.IsNaN(g) {
			d = append(d, g/u.period)
		}
	}
	if len(d) == 0 || median(d) < 0.3 || median(d) > 0.7 {
		return nil
	}
	u.split, u.period = median(d), meanStep(u.marks[0], u.period)
	s.arrange(u, true)
	u.beats.cost = [2]float64{t.beats.cost[0], t.beats.cost[0]} // they were placed together
	s.judge(u, u.beats.profile(2))
	u.beats.x = nil
	return u
}

// placing returns what it costs a row that its mark was looked for, instead of
// known: the logarithm of how many places, as far apart as the band tells them
// apart, the marks of a side scatter over.
func (w *white) placing(marks []float64) float64 {
	var d []float64
	for i := 2; i+2 < len(marks); i++ { // every other one may be late
		if v := math.Abs(marks[i-2] - 2*marks[i] + marks[i+2]); !math.IsNaN(v) {
			d = append(d, v)
		}
	}
	if len(d) == 0 {
		return w.rangeCost()
	}
	// 0.6745 standard deviations is the median magnitude of a normal
	// distribution, of which a second difference has six times the variance.
	scatter := median(d) / 0.6745 / math.Sqrt(6) / w.perSec
	// A normal distribution's entropy is that of an even one sqrt(2 pi e) wide.
	return max(0, min(w.rangeCost(), math.Log(math.Sqrt(2*math.Pi*math.E)*scatter*w.resolution())))
}

// resolution is how many places a second the band tells apart.
func (w *white) resolution() float64 { return 2 * w.hz }

// rangeCost is the logarithm of how many places there are within the reach of an
// alignment.
func (w *white) rangeCost() float64 { return math.Log(max(1, 2*reachSeconds*w.resolution())) }

// judge sets the evidence, by the profile of the beats of both sides.
func (s *stretch) judge(t *trial, p profile) {
	t.blocks = s.byTime(&t.beats, p.rows)
	weaker, rise := s.shares(t, p.cells)
	t.alone = s.together(t)
	t.prior = -math.Ln10*strange*min(1, rise/leastSound) + unlike*math.Log(weaker)
}

// How probable a movement is that makes another sound beside its beats, of
// leastSound times these: the logarithm to base ten of the odds against it. The
// shares separate true from wrong counts on movements drawn at random (SNR 4 to
// 16 dB): 0.02 and less to 0.15 and more.
const (
	strange    = 4
	leastSound = 0.15
)

// unlike is the power of the likelihood of one side, against that of the other,
// with which it becomes rarer that sides are so unlike. Deep in the room, likelihood
// goes with the square of a sound's power: ten times less is five decibels, which
// makes such a movement four times rarer.
const unlike = 0.6

// together is the logarithm of how much more probable it is, if the sounds of the
// first side are of one side, that every other one of them comes as early and is as loud
// as it is than if they are of both sides: sides are hardly ever exactly in beat, and
// hardly ever equally loud.
func (s *stretch) together(t *trial) float64 {
	levels, heard := s.levels(t)
	times := alternating(t.marks[0], sameTooth*t.perSec).odds(func(off, se float64) float64 {
		return math.Log(inBeat*math.Exp(normal(off, math.Hypot(se, inBeatWithin*t.period))) + (1-inBeat)*math.Sqrt(2*math.Pi)/t.period)
	})
	loudness := alternating(levels, sameLoud).odds(func(off, se float64) float64 {
		return normal(off, math.Hypot(se, sidesDiffer*heard))
	})
	return max(-apart, times+loudness)
}

// levels returns how loud the sounds of the first side are, nats of power, and which part of
// that power is theirs, not the room's.
func (s *stretch) levels(t *trial) (levels []float64, heard float64) {
	var sounds, room []float64
	for _, m := range t.marks[0] {
		p, q := s.powerAbout(m), s.powerAbout(m+t.period/4)
		levels = append(levels, math.Log(p))
		if !math.IsNaN(p) && !math.IsNaN(q) {
			sounds, room = append(sounds, p), append(room, q)
		}
	}
	if len(sounds) == 0 {
		return levels, 0
	}
	return levels, max(0, 1-median(room)/median(sounds))
}

// alternation is by how much every other one of a row of values is greater than those about
// it, and the standard error of that; infinite where there are too few.
type alternation struct{ off, se float64 }

// alternating returns the alternation of values, of which those of one side differ by turns by
// least as a rule; values that are not known are NaN.
func alternating(x []float64, least float64) alternation {
	var d []float64
	for i := 1; i+1 < len(x); i++ {
		if v := x[i] - (x[i-1]+x[i+1])/2; !math.IsNaN(v) && !math.IsInf(v, 0) {
			d = append(d, v*float64(1-2*(i%2)))
		}
	}
	if len(d) < 3 {
		return alternation{se: math.Inf(1)}
	}
	off := median(d)
	for i := range d {
		d[i] = math.Abs(d[i] - off)
	}
	// The standard error of a median is sqrt(pi/2) times that of a mean; each value
	// has half of its noise from the neighbours, with which it shares it.
	return alternation{off, math.Hypot(2*median(d)/0.6745/math.Sqrt(float64(len(d))), least)}
}

// odds returns the logarithm of how much more probable the alternation is by chance than in
// two sides, of which both gives the logarithm of the density.
func (a alternation) odds(both func(off, se float64) float64) float64 {
	if math.IsInf(a.se, 1) {
		return 0
	}
	return normal(a.off, a.se) - both(a.off, a.se)
}

// normal is the logarithm of a normal density of mean 0, but for a constant.
func normal(x, sd float64) float64 { return -x*x/(2*sd*sd) - math.Log(sd) }

const (
	sameTooth    = 50e-6 // seconds by which the teeth of one parity may differ from the others
	inBeat       = 0.8   // of movements are within some times
	inBeatWithin = 0.01  // of a beat's interval, the others anywhere
	sameLoud     = 0.1   // nats of power by which the teeth of one parity may differ from the others: half a decibel
	sidesDiffer  = 0.9   // and the sides of movements do, one standard deviation: 4 dB
	apart        = 20
)

// against is the evidence that the sounds of one side of t are not of both sides
// of u in turn.
func (t *trial) against(u *trial) float64 {
	if times := u.period / t.period / 2; times < 0.99 || math.Abs(times-math.Round(times)) > 0.01 {
		return 0
	}
	return t.alone
}

// decide returns the most probable of the trials, the natural logarithm of its
// odds against the next best count, and that.
func decide(trials []*trial) (best, next *trial, odds float64) {
	odds = math.Inf(-1)
	for _, a := range trials {
		least, rival := math.Inf(1), (*trial)(nil)
		for _, b := range trials {
			if math.Abs(b.period/a.period-1) < 0.02 {
				if sum(b.blocks) > sum(a.blocks) && b != a {
					least = math.Inf(-1)
				}
				continue
			}
			if o := evidence(a.blocks, b.blocks) + a.prior - b.prior + a.against(b) - b.against(a); o < least {
				least, rival = o, b
			}
		}
		if least > odds {
			best, next, odds = a, rival, least
		}
	}
	return best, next, odds
}
