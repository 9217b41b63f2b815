package compare

import (
	"math"
	"slices"
)

// decide gives every metric its verdict. Where many figures are compared, one
// in twenty would differ by chance: the procedure of Y. Benjamini and Y.
// Hochberg (JRSS B 57, 1995) keeps wrong ones to 5 % of those shown, and to 5 %
// of pairs of runs that differ in nothing. A verdict also needs an interval
// that leaves zero out.
func decide(ms []Metric) {
	const allowed = 0.05
	var ps []float64
	for _, m := range ms {
		if m.PValue.Known() {
			ps = append(ps, float64(m.PValue))
		}
	}
	slices.Sort(ps)
	limit := 0.0
	for i, p := range ps {
		if p <= allowed*float64(i+1)/float64(len(ps)) {
			limit = p
		}
	}
	for i := range ms {
		m := &ms[i]
		m.Verdict = NoDifference
		if m.PValue.Known() && float64(m.PValue) <= limit && m.apart() {
			m.Verdict = m.direction()
		}
	}
}

// apart reports that the interval leaves out zero. One that could not be had
// does not stand in the way.
func (m *Metric) apart() bool {
	return !m.Low.Known() || !m.High.Known() || m.Low > 0 || m.High < 0
}

func (m *Metric) direction() Verdict {
	gain := float64(m.Difference)
	switch m.Aim {
	case NearerZero:
		gain = math.Abs(float64(m.Before)) - math.Abs(float64(m.After))
	case Smaller:
		gain = -gain
	}
	if gain > 0 {
		return Better
	}
	return Worse
}
