package fault

import "math"

// claim is the strongest sign of a wave in a spectrum.
type claim struct {
	logp      float64 // logarithm of the p-value, corrected for all that was looked at
	freq      float64 // cycles per value
	harmonics int     // number of harmonics that were taken together; 0 for a single line at some bin
}

const (
	// families is the number of ways in which a wave is looked for: as a line
	// anywhere, as a shape of which the strongest line is a harmonic, as one that
	// repeats in a whole number of beats, and as one that repeats with a part of
	// the train.
	families = 4
	// maxWhole is the longest period in whole beats that is folded without
	// knowing the train: an escape wheel of 150 teeth.
	maxWhole = 300
	// maxHarmonics bounds the harmonics taken together.
	maxHarmonics = 150
	// clearLine is the evidence of a line that is beyond doubt.
	clearLine = 30
	// aloneLine is the evidence that makes a harmonic credible by itself.
	aloneLine = 12
)

// strongest returns the strongest claim; known are the frequencies of the parts
// of the train, in cycles per value.
func (s *spectrum) strongest(known []float64, step int) claim {
	best, bins := s.strongestLine()
	line := best.freq
	for k := 1; k <= deepestComb; k++ {
		best = best.orShape(s.folded(line/float64(k)), float64(deepestComb*bins))
	}
	for _, f := range known {
		c := s.folded(f)
		c.logp += math.Log(float64(len(known)))
		best = best.or(c)
	}
	if step == 1 {
		for p := 3; p <= maxWhole; p++ {
			best = best.orShape(s.folded(1/float64(p)), maxWhole)
		}
	}
	best.logp += math.Log(families)
	return best
}

func (c claim) or(d claim) claim {
	if d.logp < c.logp {
		return d
	}
	return c
}

// orShape returns the stronger of c and d, which is one of some tries and not
// considered where it is but a single line.
func (c claim) orShape(d claim, tries float64) claim {
	d.logp += math.Log(tries)
	if d.harmonics < 2 {
		return c
	}
	return c.or(d)
}

// strongestLine returns the strongest bin that is a line, and among how many it
// is.
func (s *spectrum) strongestLine() (c claim, bins int) {
	top := 0
	for k, e := range s.evidence {
		if e > 0 {
			bins++
		}
		if e > s.evidence[top] && s.alone(k) {
			top = k
		}
	}
	bins = max(1, bins)
	return claim{logp: -s.evidence[top] + math.Log(float64(bins)), freq: s.vertex(top)}, bins
}

// folded returns the claim of a wave of unknown shape at freq: the evidence of
// its harmonics, the first alone, two, four … or all of them, whichever sum is
// the least likely from noise. Folding the beat times by the period finds the
// same power; here each harmonic is held against its own noise. In a sum no
// harmonic counts for more than a clear line: one that is far clearer is a wave
// of its own, or else is found as a line.
func (s *spectrum) folded(freq float64) claim {
	const turnsApart = 5 // harmonics that are closer are not independent
	best := claim{freq: freq}
	if k := s.bin(freq); k < 0 || s.turns(k) < turnsApart {
		return best
	}
	sum, tries := 0.0, 0.0
	for j := 1; j <= maxHarmonics; j++ {
		k := s.bin(float64(j) * freq)
		if k < 0 {
			break
		}
		e := s.evidence[k]
		sum += min(e, clearLine)
		if j == 1 {
			best.logp, best.harmonics = -e, 1
		} else {
			// Where noise comes twice, so does the evidence: it counts in part,
			// as if of fewer harmonics.
			part := 1 / (1 + s.doubled)
			best = best.or(claim{logGammaTail(int(math.Ceil(float64(j)*part)), sum*part), freq, j})
		}
		tries++
	}
	best.logp += math.Log(1 + math.Log2(tries))
	return best
}

// harmonics returns the harmonics of freq that are there, and their evidence.
// One next to another is taken on little evidence; one alone must stand out,
// with at most one missing before it. own tells whether a frequency is that of
// another part of the train, which keeps its line unless it is no higher than
// that of a harmonic would be.
func (s *spectrum) harmonics(freq float64, own func(freq float64) bool) (list []int, evidence float64) {
	const beside, higher = 4, 4
	missing := 1
	for j := 1; j <= maxHarmonics && missing < 3; j++ {
		k := s.bin(float64(j) * freq)
		if k < 0 {
			break
		}
		least := float64(aloneLine)
		if missing == 0 {
			least = beside
		}
		missing++
		if s.evidence[k] < least {
			continue
		}
		if j > 1 && own(float64(j)*freq) {
			below, above := s.bin(float64(j-1)*freq), s.bin(float64(j+1)*freq)
			if above < 0 || s.power[k] > higher*max(s.power[below], s.power[above]) {
				continue
			}
		}
		list = append(list, j)
		evidence += s.evidence[k]
		missing = 0
	}
	return list, evidence
}

// fundamental returns the frequency of which the line at freq is a harmonic: the
// lowest at whose harmonics up to the line three of four are there. own is as
// for harmonics.
func (s *spectrum) fundamental(freq, low float64, own func(float64) bool) float64 {
	const most, weakest = 0.75, 0.1 // share of harmonics; power of the others over that of the line
	best := freq
	top := s.power[max(0, s.bin(freq))]
	for k := 2; k <= deepestComb && freq/float64(k) >= low; k++ {
		f := freq / float64(k)
		var there []int
		next := 0.0
		for j := 1; j <= k; j++ {
			b := s.bin(float64(j) * f)
			if b < 0 || s.evidence[b] < aloneLine || j < k && own(float64(j)*f) {
				continue
			}
			there = append(there, j)
			if j < k {
				next = max(next, s.power[b])
			}
		}
		if float64(len(there)) >= most*float64(k) && common(there) == 1 && next > weakest*top {
			best = f
		}
	}
	return best
}

// polish returns freq as its harmonics have it, which tell it the more precisely
// the higher they are.
func (s *spectrum) polish(freq float64, list []int) float64 {
	const surest = 1000 // beyond that other things than noise limit precision
	sum, weight := 0.0, 0.0
	for _, j := range list {
		n := float64(j)
		k := s.bin(n * freq)
		if k < 1 || k+1 >= len(s.power) || s.evidence[k] < aloneLine {
			continue
		}
		for _, near := range [2]int{k - 1, k + 1} {
			if s.power[near] > s.power[k] {
				k = near
			}
		}
		w := n * n * min(surest, s.power[k]/s.floor.at(s.turns(k)))
		sum += w * s.vertex(k) / n
		weight += w
		freq = sum / weight
	}
	return freq
}

// vertex is the frequency of the top of the line at bin k, by the parabola through
// the logarithms of its power and that of its neighbours.
func (s *spectrum) vertex(k int) float64 {
	if k == 0 || k+1 >= len(s.power) {
		return float64(k) / float64(s.size)
	}
	a, b, c := math.Log(s.power[k-1]), math.Log(s.power[k]), math.Log(s.power[k+1])
	shift := (a - c) / (2 * (a - 2*b + c))
	if !(math.Abs(shift) < 1) {
		shift = 0
	}
	return (float64(k) + shift) / float64(s.size)
}

const (
	// deepestComb is the highest harmonic that the strongest line of a shape may
	// be.
	deepestComb = 75
	// deepest is the highest harmonic that is taken for one of a wave found
	// before, where nothing but the number speaks for it. Neighbouring arbors
	// seldom differ by less.
	deepest = 5
)

// lowest is the greatest common divisor of the harmonics among the first dozen.
// Higher ones say little: those that are faster than the beats can show are
// seen elsewhere, where they pass for harmonics of a longer period.
func lowest(list []int) int {
	const few, dozen = 3, 12
	var low []int
	for _, j := range list {
		if j <= dozen {
			low = append(low, j)
		}
	}
	if len(low) < few {
		return 1
	}
	return common(low)
}

// common is the greatest common divisor.
func common(list []int) int {
	d := 0
	for _, n := range list {
		for n != 0 {
			d, n = n, d%n
		}
	}
	return d
}
