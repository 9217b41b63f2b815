package compare

import (
	"errors"
	"fmt"
	"math"
	"strings"

	"rundown/dsp/stats"
)

// wrong is how probably any verdict at all is wrong, however many figures are
// compared.
const wrong = 0.05

// asked is the share of wrong that a figure named beforehand gets; the others
// have the rest between them. Once it is decided, they have all of it.
const asked = 0.9

// ErrFigure says that a figure is not among those compared.
var ErrFigure = errors.New("there is no figure")

// decide gives every metric its verdict by Holm's procedure, the named figure,
// if any, with the greater part of the probability; and says how many runs would
// have shown what was seen. A verdict also needs an interval that leaves zero
// out. The error says that there is no such figure.
func decide(ms []Metric, named string) error {
	p, weights := make([]float64, len(ms)), make([]float64, len(ms))
	judged, found := 0, named == ""
	for i := range ms {
		p[i] = float64(ms[i].PValue)
		found = found || ms[i].Name == named
		if ms[i].PValue.Known() {
			judged++
		}
	}
	if !found {
		return fmt.Errorf("%w %q: give one of %s", ErrFigure, named, names(ms))
	}
	for i := range ms {
		switch weights[i] = 1 / float64(judged); {
		case named == "" || judged == 1:
		case ms[i].Name == named:
			weights[i] = asked
		default:
			weights[i] = (1 - asked) / float64(judged-1)
		}
	}
	shown := stats.Holm(p, weights, wrong)
	for i := range ms {
		m := &ms[i]
		m.Verdict = NoDifference
		if shown[i] && m.apart() {
			m.Verdict = m.direction()
		}
		m.need(wrong * weights[i])
	}
	return nil
}

func names(ms []Metric) string {
	out := make([]string, len(ms))
	for i := range ms {
		out[i] = ms[i].Name
	}
	return strings.Join(out, ", ")
}

// need finds how many runs of either state show a difference of the size found,
// at level alpha, in 8 of 10 such sets.
func (m *Metric) need(alpha float64) {
	sd := float64(m.RunSD)
	own := m.own
	if !(sd > own) {
		sd = own
	}
	if sd > 0 && m.Difference.Known() {
		m.Needed = stats.Repeats(float64(m.Difference)/sd, alpha, 0.8, MostRuns)
	}
}

// apart reports whether the interval leaves out zero. One that could not be had
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
