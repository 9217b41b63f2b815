package acquisition

import (
	"cmp"
	"math"
	"slices"

	"gonum.org/v1/gonum/dsp/fourier"
	"gonum.org/v1/gonum/mathext"

	"rundown/dsp/parallel"
	"rundown/dsp/stats"
)

// The slowest and the fastest movement looked for, as the period of two beats
// in seconds: 1 200 and 43 200 beats an hour, with a little room.
const (
	longestPeriod  = 6.1
	shortestPeriod = 0.163
)

// Band is how a stretch of a recording sounds in one frequency band, block by
// block.
type Band struct {
	Energy   []float32 // mean squares
	Floor    []float32 // loudness of the room; see onset.Floor
	Strength []float32 // how suddenly the sound sets in; see onset.Strength
}

// cadence is what repeats in a stretch of a recording: two beats a period. All
// times are in blocks of the envelope that it was found in.
type cadence struct {
	Band   int     // index of the band in which it is clearest
	Alone  bool    // nothing was heard between beats that are all alike: the other side may be too weak
	Period float64 // tick to next tick
	// Phase is when the first whole period of the stretch begins for either
	// side, within [0, Period).
	Phase [2]float64
	// Strength is how suddenly the sound of either side sets in, averaged over
	// the stretch, in nats.
	Strength [2]float64
	Hits     float64 // fraction of the places of the stronger side in which a beat was heard
	Likeness float64 // autocorrelation of the onsets at the first multiples of the period
	LogP     float64 // natural logarithm of the chance of so many hits at random
}

// findCadence returns the least probable by chance of what the bands hold.
//
// Candidate periods are maxima of the autocorrelation of onset strengths. The
// right one is the shortest at whose every multiple a sound sets in; whether it
// spans one beat or two shows in the sounds themselves (see sides). Whether it
// is a beat at all is judged by the chance of so many of the places being hit
// if sounds as strong came at random, and by how alike the repetitions are.
func findCadence(bands []Band, perSecond float64) (cadence, bool) {
	found := make([]cadence, len(bands))
	parallel.Each(len(bands), func(i int) {
		if g := findLag(bands[i].Strength, perSecond); g != nil {
			if c, ok := g.sides(bands, perSecond); ok && c.convincing() {
				c.Band = i
				found[i] = c
			}
		}
	})
	best := cadence{}
	for _, c := range found {
		if c.Period > 0 && (best.Period == 0 || c.LogP < best.LogP) {
			best = c
		}
	}
	return best, best.Period > 0
}

// convincing tells whether the evidence is such that a rate may be given. The
// bounds were set on recordings of clocks and of rooms without one, five
// seconds to ten minutes long.
func (c *cadence) convincing() bool {
	if c.LogP < -25 {
		return c.Likeness > 0.05
	}
	return c.LogP < -7 && c.Likeness > 0.24 && min(c.Strength[0], c.Strength[1]) > 0.6
}

// findLag returns the shortest lag at which the onsets of one band repeat, nil
// where there is none. Where the onsets hardly resemble their repetitions, and
// deep is true, it folds them at all lags.
func findLag(strength []float32, perSecond float64) *grid {
	s := make([]float32, len(strength))
	for i, v := range strength {
		s[i] = min(v, loudEnough)
	}
	wide := dilate(s)
	most := len(s) * 2 / 3
	if float64(most) < shortestPeriod*perSecond {
		return nil
	}
	r := autocorrelation(wide, most)
	g := shortest(s, wide, repeats(r, perSecond), perSecond)
	if g != nil {
		g = g.divided(r, perSecond)
	}
	if g != nil {
		g.odds = 1
		if g.comb > 0.15 { // else it is all noise
			g.odds = odds(r, g.lag)
		}
	}
	return g
}

// beyondDoubt is how small the chance of a lag must be for it to count though
// another, longer one repeats more faithfully.
const beyondDoubt = -60

// shortest returns the grid of the shortest repeat lag that holds a beat at
// most of its multiples, nil where none does.
func shortest(s, wide []float32, lags []repeat, perSecond float64) *grid {
	best := 0.0
	for _, c := range lags {
		best = max(best, c.comb)
	}
	slices.SortFunc(lags, func(a, b repeat) int { return cmp.Compare(a.lag, b.lag) })
	for _, c := range lags {
		likely := c.lag > shortestPeriod/2*perSecond && c.comb > 0.03
		if c.comb <= 0.4*best && !likely {
			continue
		}
		g := newGrid(s, wide, c)
		if g.hits < 0.75 {
			continue
		}
		g.judge()
		if c.comb > 0.4*best || g.logP < beyondDoubt {
			return g
		}
	}
	return nil
}

// divided returns the grid of a part of the lag, where that explains more: where
// a movement runs for part of the stretch only, most of its beats may be in
// place at a multiple of its lag by chance, though too few are at its own.
func (g *grid) divided(r []float64, perSecond float64) *grid {
	best := g
	least := 1.25 * g.logP
	for k := 8.0; k > 1; k-- {
		if g.lag/k < shortestPeriod/2*perSecond {
			continue
		}
		h := newGrid(g.s, g.wide, repeat{g.lag / k, comb(r, g.lag/k)})
		if h.hits < 0.7*g.hits {
			continue
		}
		if h.judge(); h.logP < least {
			best, least = h, h.logP
		}
	}
	if best == g {
		return g
	}
	return best.divided(r, perSecond)
}

// loudEnough is the strength beyond which an onset counts no more, so that a
// slammed door weighs as much as a beat.
const loudEnough = 3

// dilate returns the maximum of x, which is nowhere negative, about each place,
// falling linearly to zero at four places away: it makes up for beats that come
// a block early or late.
func dilate(x []float32) []float32 {
	out := make([]float32, len(x))
	var next [3]float32
	copy(next[:], x)
	d, e, f := next[0], next[1], next[2] // this place and two after
	var a, b, c float32                  // three before
	for i := range x {
		var g float32
		if i+3 < len(x) {
			g = x[i+3]
		}
		out[i] = max(d, 0.75*max(c, e), 0.5*max(b, f), 0.25*max(a, g))
		a, b, c, d, e, f = b, c, d, e, f, g
	}
	return out
}

// repeat is a lag, in blocks, at which the onsets resemble themselves.
type repeat struct {
	lag  float64
	comb float64 // mean autocorrelation at its first multiples
}

// repeats returns the most promising lags, each refined at ever higher
// multiples of itself as far as r reaches.
func repeats(r []float64, perSecond float64) []repeat {
	const most = 40
	var out []repeat
	// Hum and engines repeat faster than any movement, and are found as such.
	from, to := int(0.009*perSecond), min(len(r)-2, int(longestPeriod*perSecond))
	for l := from; l < to; l++ {
		if r[l] > 0.06 && r[l] > r[l-1] && r[l] >= r[l+1] {
			out = append(out, repeat{float64(l), r[l]})
		}
	}
	// Of very many, the shortest are among the most promising, whatever chance
	// makes of their multiples.
	short := slices.Clone(out[:min(len(out), most/4)])
	slices.SortFunc(out, func(a, b repeat) int { return cmp.Compare(b.comb, a.comb) })
	if len(out) > most {
		out = append(out[:most], short...)
	}
	for i := range out {
		c := &out[i]
		// Farther out, too few beats are compared to tell.
		for k := 1.0; k*c.lag < 0.75*float64(len(r)); k = math.Ceil(1.4 * k) {
			at, v := peakNear(r, k*c.lag, drift(k, c.lag))
			if v < 0.3*r[int(c.lag+0.5)] {
				break
			}
			c.lag = at / k
		}
		c.comb = comb(r, c.lag)
	}
	return out
}

// comb returns the mean of r at the first multiples of a lag.
func comb(r []float64, lag float64) float64 {
	var sum float64
	n := 0
	for k := 1.0; k <= 8 && k*lag < float64(len(r)-4); k++ {
		_, v := peakNear(r, k*lag, drift(k, lag))
		sum += v
		n++
	}
	return sum / float64(max(1, n))
}

// drift is how far, in blocks, a movement may wander from k times the lag: a
// poor one a hundredth of that.
func drift(k, lag float64) int {
	return int(max(3, min(0.01*k*lag, 0.1*lag)))
}

// peakNear returns the place, to a fraction, and the value of the maximum of r
// within reach of at.
func peakNear(r []float64, at float64, reach int) (float64, float64) {
	c := int(at + 0.5)
	p := min(max(1, c-reach), len(r)-2)
	for i := p; i <= min(len(r)-2, c+reach); i++ {
		if r[i] > r[p] {
			p = i
		}
	}
	return float64(p) + stats.Vertex(r[p-1], r[p], r[p+1]), r[p]
}

// grid is a stretch of onset strengths folded at one lag.
type grid struct {
	repeat
	s, wide []float32
	profile []float64 // mean of wide by place in the lag
	peak    int       // place of the maximum of profile
	hits    float64   // fraction of places in which an onset of half that strength comes
	logP    float64   // chance of that, natural logarithm
	odds    float64   // autocorrelation at odd multiples of the lag over that at even ones
}

func newGrid(s, wide []float32, c repeat) *grid {
	g := &grid{repeat: c, s: s, wide: wide, profile: fold(wide, c.lag)}
	for i, v := range g.profile {
		if v > g.profile[g.peak] {
			g.peak = i
		}
	}
	n, hit := g.count(float64(g.peak), g.lag, 0.5*g.profile[g.peak])
	g.hits = float64(hit) / float64(n)
	return g
}

// judge sets how probable so many hits are by chance.
func (g *grid) judge() {
	threshold := 0.5 * g.profile[g.peak]
	n, hit := g.count(float64(g.peak), g.lag, threshold)
	// Two hits are spent on the lag and the phase.
	g.logP = logBinomialTail(n-2, hit-2, g.chance(threshold))
}

// reach is how many blocks from its place an onset may lie.
func (g *grid) reach() int { return max(2, min(4, int(0.02*g.lag))) }

// count returns how many places there are from first at every lag, and in how
// many of them an onset of at least the threshold comes.
func (g *grid) count(first, lag, threshold float64) (places, hits int) {
	reach := g.reach()
	for at := first; at < float64(len(g.s)); at += lag {
		i := int(at + 0.5)
		if i >= len(g.s) {
			break
		}
		places++
		for _, v := range g.s[max(0, i-reach):min(len(g.s), i+reach+1)] {
			if float64(v) >= threshold {
				hits++
				break
			}
		}
	}
	return places, hits
}

// chance returns the chance that a place chosen at random sees an onset of at
// least the threshold.
func (g *grid) chance(threshold float64) float64 {
	reach := g.reach()
	covered, until := 0, 0
	for i, v := range g.s {
		if float64(v) >= threshold {
			end := min(len(g.s), i+reach+1)
			covered += end - max(until, i-reach)
			until = end
		}
	}
	return float64(covered) / float64(len(g.s))
}

// fold returns the mean of x by place within the lag, one value a block.
func fold(x []float32, lag float64) []float64 {
	n := int(math.Ceil(lag))
	sum := make([]float64, n)
	rows, short := 0, n // the last row may be short of a place
	for start := 0.0; start+lag <= float64(len(x)); start += lag {
		at := int(start + 0.5)
		row := x[at:min(at+n, len(x))]
		for i, v := range row {
			sum[i] += float64(v)
		}
		rows++
		short = len(row)
	}
	for i := range sum {
		if i < short {
			sum[i] /= float64(max(1, rows))
		} else {
			sum[i] /= float64(max(1, rows-1))
		}
	}
	return sum
}

// logBinomialTail returns ln P(X ≥ k) for X binomial of n trials at p.
func logBinomialTail(n, k int, p float64) float64 {
	switch {
	case k <= 0:
		return 0
	case k > n || p <= 0:
		return math.Inf(-1)
	case p >= 1:
		return 0
	}
	if tail := mathext.RegIncBeta(float64(k), float64(n-k+1), p); tail > 1e-250 {
		return math.Log(tail)
	}
	// Chernoff's bound, where the tail itself underflows.
	q := float64(k) / float64(n)
	d := q * math.Log(q/p)
	if q < 1 {
		d += (1 - q) * math.Log((1-q)/(1-p))
	}
	return -float64(n) * d
}

// sides decides whether the lag spans one beat or two, and where the two sides
// lie.
//
// A lag of two beats shows a second onset between a third and two thirds of the
// way. A lag of one beat may show one too, where a sound of the same beat
// follows late; then the beats at even and odd multiples of the lag are tick
// and tock, and no movement is so well in beat that they come exactly evenly
// and sound exactly alike.
func (g *grid) sides(bands []Band, perSecond float64) (cadence, bool) {
	second, distinct := g.secondSide(bands)
	c := cadence{Period: g.lag, Hits: g.hits, Likeness: g.comb}
	at := [2]float64{float64(g.peak), float64(second)}
	// No movement is so fast that both its beats come within a lag as short as that.
	single := g.lag < shortestPeriod*perSecond
	if alternating := g.odds < 0.9 || g.alternates(); !distinct || alternating || single {
		c.Alone = !distinct && !alternating
		c.Period = 2 * g.lag
		at[1] = float64(g.peak) + g.lag
	}
	if c.Period < shortestPeriod*perSecond || c.Period > longestPeriod*perSecond {
		return cadence{}, false
	}
	p := fold(g.wide, c.Period)
	n, hit, chance := 0, 0, 0.0
	for side, a := range at {
		i, _ := peakNear(p, math.Mod(a, c.Period), max(3, int(0.05*g.lag)))
		c.Phase[side] = math.Mod(i+c.Period, c.Period)
		c.Strength[side] = p[min(len(p)-1, int(c.Phase[side]+0.5))]
		threshold := 0.5 * c.Strength[side]
		ni, hi := g.count(c.Phase[side], c.Period, threshold)
		n, hit, chance = n+ni, hit+hi, max(chance, g.chance(threshold))
	}
	// Three hits are spent on the period and the two phases.
	c.LogP = min(g.logP, logBinomialTail(n-3, hit-3, chance))
	return c, true
}

// odds compares the autocorrelation r at odd multiples of a lag with that at
// the even ones beside them: 1 where the lag is a full period, or where it cannot
// be told, less where it is half of one.
func odds(r []float64, lag float64) float64 {
	var odd, even float64
	for k := 1.0; k <= 7 && (k+1)*lag < float64(len(r)-4); k += 2 {
		_, o := peakNear(r, k*lag, 2)
		_, e := peakNear(r, (k+1)*lag, 2)
		odd += o
		even += e
	}
	if even <= 0 {
		return 1
	}
	return odd / even
}

// secondSide returns the clearest place from a third to two thirds of the way
// after the peak, and whether the other side's beats may lie there. That side
// may be far weaker, too weak for its beats to stand out one by one; folded over
// the stretch, its energy stands out of the room's all the same.
func (g *grid) secondSide(bands []Band) (place int, distinct bool) {
	var best float64
	for _, b := range bands {
		p, z := g.standsOut(b)
		if z > best {
			place, best = p, z
		}
	}
	if best >= 8 && float64(len(g.s)) > 40*g.lag {
		return place, true
	}
	if p, z := g.foldsBetween(); z >= 7 && float64(len(g.s)) > 12*g.lag {
		if float64(len(g.s)) > 40*g.lag || math.Abs(float64(p-g.peak))/g.lag-0.5 < 0.1 {
			return p, true
		}
	}
	// A few beats prove little: then the two sides must be of a kind, the more so
	// the farther out of beat they would be.
	n := len(g.profile)
	place = -1
	for d := int(0.31 * g.lag); float64(d) <= 0.69*g.lag; d++ {
		if i := (g.peak + d) % n; place < 0 || g.profile[i] > g.profile[place] {
			place = i
		}
	}
	v := g.profile[place]
	places, hits := g.count(float64(place), g.lag, 0.5*v)
	room := 0.0
	if float64(len(g.s)) > 40*g.lag {
		room = median(g.profile)
	}
	alike := 0.5
	if d := math.Mod(float64(place-g.peak)+g.lag, g.lag) / g.lag; math.Abs(d-0.5) > 0.1 {
		alike = 0.85
	}
	return place, v-room > alike*(g.profile[g.peak]-room) && float64(hits) >= 0.75*float64(places)
}

// foldsBetween is between for the onsets: it returns the place from a third to
// two thirds of the way at which their mean is greatest, and by how many
// standard errors of a mean that is more than the whole's.
func (g *grid) foldsBetween() (place int, z float64) {
	p := fold(g.s, g.lag)
	var mean, square float64
	for _, v := range g.s {
		mean += float64(v)
		square += float64(v) * float64(v)
	}
	n := float64(len(g.s))
	mean /= n
	se := math.Sqrt((square/n - mean*mean) * g.lag / n)
	for d := int(0.31 * g.lag); float64(d) <= 0.69*g.lag; d++ {
		if i := (g.peak + d) % len(p); p[i]-mean > z*se {
			place, z = i, (p[i]-mean)/se
		}
	}
	return place, z
}

// median is stats.Median, and leaves x as it is.
func median(x []float64) float64 { return stats.Median(slices.Clone(x)) }

// standsOut folds the energy of one band, in units of the room's, and returns
// the loudest place from a third to two thirds of the way after the peak, and
// by how many standard deviations it stands out of the quieter half of the
// profile: 0 where what just precedes the next peak does so half as much.
func (g *grid) standsOut(b Band) (place int, z float64) {
	// Beyond four times the room's, louder is not more certain.
	const most = 4
	e := make([]float32, len(b.Energy))
	for i, v := range b.Energy {
		if f := b.Floor[i]; f > 0 {
			e[i] = min(v/f, most)
		}
	}
	p := fold(e, g.lag)
	n := len(p)
	rest := make([]float64, 0, n)
	place = -1
	var before float64
	for d := range n {
		i := (g.peak + d) % n
		f := float64(d) / g.lag
		if f > 0.05 && f < 0.95 {
			rest = append(rest, p[i])
		}
		if f >= 0.31 && f <= 0.69 && (place < 0 || p[i] > p[place]) {
			place = i
		}
		if f > 0.75 && f < 0.93 {
			before = max(before, p[i])
		}
	}
	slices.Sort(rest)
	median := rest[len(rest)/2]
	// A sixth of a normal distribution lies a standard deviation below the middle.
	sd := median - rest[len(rest)/6]
	if sd <= 1e-6*median || p[place]-median < 2*(before-median) {
		return place, 0
	}
	return place, (p[place] - median) / sd
}

// alternates tells whether the onsets at even and odd multiples of the lag
// differ, in time or in strength, by more than chance.
func (g *grid) alternates() bool {
	var time, strength [2][]float64
	k := 0
	for at := float64(g.peak); at < float64(len(g.s))-4; at += g.lag {
		if i := int(at + 0.5); i >= 4 && i+4 < len(g.s) {
			p := i
			for j := i - 4; j <= i+4; j++ {
				if g.s[j] > g.s[p] {
					p = j
				}
			}
			time[k%2] = append(time[k%2], float64(p)-at)
			strength[k%2] = append(strength[k%2], float64(g.s[p]))
		}
		k++
	}
	return differ(time[0], time[1], 0.3) || differ(strength[0], strength[1], 0.1)
}

// differ tells whether the means of two samples differ by more than five
// standard errors and more than the least amount that matters.
func differ(a, b []float64, least float64) bool {
	if len(a) < 3 || len(b) < 3 {
		return false
	}
	ma, va := meanVar(a)
	mb, vb := meanVar(b)
	d := math.Abs(ma - mb)
	return d > least && d*d > 25*(va/float64(len(a))+vb/float64(len(b)))
}

func meanVar(x []float64) (mean, variance float64) {
	for _, v := range x {
		mean += v
	}
	mean /= float64(len(x))
	for _, v := range x {
		variance += (v - mean) * (v - mean)
	}
	return mean, variance / float64(len(x)-1)
}

// quickLength returns the least length from n on that has no prime factor but 2,
// 3 and 5, at least two of them 2: of such, the Fourier transform is quick.
func quickLength(n int) int {
	for n = max(4, (n+3)/4*4); ; n += 4 {
		rest := n
		for _, f := range []int{2, 3, 5} {
			for rest%f == 0 {
				rest /= f
			}
		}
		if rest == 1 {
			return n
		}
	}
}

// autocorrelation returns the autocorrelation of x, its mean taken out, at lags
// 0 … most: each lag divided by the energies of the two stretches that overlap,
// hence 1 at lag 0 and within ±1.
func autocorrelation(x []float32, most int) []float64 {
	n := len(x)
	size := quickLength(n + most)
	var mean float64
	for _, v := range x {
		mean += float64(v)
	}
	mean /= float64(n)
	padded := make([]float64, size)
	energy := make([]float64, n+1) // running sum of squares
	for i, v := range x {
		padded[i] = float64(v) - mean
		energy[i+1] = energy[i] + padded[i]*padded[i]
	}
	fft := fourier.NewFFT(size)
	c := fft.Coefficients(nil, padded)
	for i, v := range c {
		c[i] = complex(real(v)*real(v)+imag(v)*imag(v), 0)
	}
	r := fft.Sequence(padded, c)
	out := make([]float64, most+1)
	for l := range out {
		if l >= n {
			break
		}
		if d := math.Sqrt(energy[n-l] * (energy[n] - energy[l])); d > 0 {
			out[l] = r[l] / float64(size) / d
		}
	}
	return out
}
