package fault

import (
	"math"

	"rundown/dsp/stats"
)

// claim is the strongest sign of a wave in a spectrum.
type claim struct {
	logp      float64 // logarithm of the p-value, corrected for all that was looked at
	freq      float64 // cycles per value
	harmonics int     // number of harmonics that were taken together; 0 for a single line at some bin
}

const (
	// families is the number of ways in which modulation is looked for: as a line
	// anywhere, as a shape of which the strongest line is a harmonic, as one that
	// repeats in a whole number of beats, as one that repeats with a part of the
	// train, and as beats displaced by themselves; in the run and, where it is
	// long, in its averages.
	families = 10
	// maxWhole is the longest period in whole beats that is folded without
	// knowing the train: an escape wheel of 150 teeth.
	maxWhole = 300
	// maxHarmonics bounds the harmonics taken together.
	maxHarmonics = 150
	// clearLine is the evidence of a line that is beyond doubt.
	clearLine = 30
	// aloneLine is the evidence that makes a harmonic credible by itself.
	aloneLine = 12
	// deepestComb is the highest harmonic that the strongest line of a shape may
	// be.
	deepestComb = 75
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
// its first harmonics, of as many as make it the least likely to be noise.
// Folding the beat times by the period finds the same power; here each harmonic
// is held against its own noise. In a sum no harmonic counts for more than a
// clear line: one that is far clearer may be a wave of its own, and is found as
// a line if it is not.
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
		// Where noise comes twice, so does the evidence: it counts in part, as
		// if of fewer harmonics.
		part := 1 / (1 + s.doubled)
		of := math.Ceil(float64(j) * part)
		switch {
		case j == 1:
			best.logp, best.harmonics = -e, 1
		case sum*part > of: // less than the mean of noise proves nothing
			best = best.or(claim{stats.LogGammaTail(int(of), sum*part), freq, j})
		}
		tries++
	}
	best.logp += math.Log(1 + math.Log2(tries)) // the sums share most of their terms
	return best
}
