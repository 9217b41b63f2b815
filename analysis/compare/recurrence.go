package compare

import (
	"fmt"
	"math"
	"math/cmplx"

	"rundown/analysis"
	"rundown/analysis/beat"
	"rundown/analysis/runs"
	"rundown/dsp/stats"
)

// recurrences compares the strongest recurrence before, and the strongest
// after where that is another one.
func (c *comparer) recurrences() []Metric {
	a, b := strongest(c.all[:c.first]), strongest(c.all[c.first:])
	var ms []Metric
	if a != nil {
		ms = append(ms, c.recurrence(a, "strongest_recurrence", "strongest recurrence"))
	}
	if b != nil && (a == nil || !same(a, b)) {
		name, label := "strongest_recurrence", "strongest recurrence"
		if a != nil {
			name, label = "strongest_recurrence_after", "strongest recurrence after"
		}
		ms = append(ms, c.recurrence(b, name, label))
	}
	return ms
}

// strongest is the first recurrence that a run lists, nil where none does.
func strongest(rs []*runs.Run) *analysis.Recurrence {
	for _, r := range rs {
		if len(r.Summary.Recurrences) > 0 {
			return &r.Summary.Recurrences[0]
		}
	}
	return nil
}

// same reports whether two recurrences may come from one part of the train.
func same(a, b *analysis.Recurrence) bool {
	return a.Kind == b.Kind && math.Abs(float64(a.PeriodBeats/b.PeriodBeats)-1) < 0.005
}

// listed finds a recurrence among those of a run, nil if it is not there.
func listed(r *runs.Run, c *analysis.Recurrence) *analysis.Recurrence {
	for i := range r.Summary.Recurrences {
		if same(&r.Summary.Recurrences[i], c) {
			return &r.Summary.Recurrences[i]
		}
	}
	return nil
}

func (c *comparer) recurrence(want *analysis.Recurrence, name, label string) Metric {
	m := blank(name, label, "", Smaller, wholeRun)
	in := make([]*analysis.Recurrence, len(c.all))
	var seen [2]bool
	for k, r := range c.all {
		in[k] = listed(r, want)
		seen[c.state(k)] = seen[c.state(k)] || in[k] != nil
	}
	if want.Kind == "events" {
		c.turns(&m, float64(want.PeriodBeats), in)
	} else {
		c.waves(&m, float64(want.PeriodBeats), in)
	}
	what := fmt.Sprintf("every %.6g beats", float64(want.PeriodBeats))
	if want.Match != "" {
		what = want.Match + ", " + what
	}
	state := "still there"
	switch {
	case !seen[0]:
		state = "new"
	case !seen[1]:
		state = "gone"
	case m.Difference != 0:
		state = "changed"
	}
	m.Note = fmt.Sprintf("%s: %s.", what, state)
	return m
}

// turns compares the share of turns with an event: that of all turns of a state
// together, and run by run.
func (c *comparer) turns(m *Metric, period float64, in []*analysis.Recurrence) {
	m.Unit = "% of turns"
	figures := make([]float64, len(c.all))
	var k, n [2]float64
	for i, r := range c.all {
		ki, ni := acted(r, period, in[i])
		figures[i] = 100 * ki / ni
		k[c.state(i)] += ki
		n[c.state(i)] += ni
	}
	m.set(c.first, figures)
	a, b, d := k[0]/n[0], k[1]/n[1], float64(m.Difference)/100
	lowA, highA := stats.ProportionInterval(k[0], n[0])
	lowB, highB := stats.ProportionInterval(k[1], n[1])
	m.interval(100*(d-math.Hypot(b-lowB, highA-a)), 100*(d+math.Hypot(highB-b, a-lowA)), stats.Fisher(k[0], n[0], k[1], n[1]))
}

// acted returns in how many of the turns a recurrence acted: as listed, or else
// as often as events came together at one phase, the worst one.
func acted(r *runs.Run, period float64, c *analysis.Recurrence) (k, n float64) {
	if c != nil && c.Opportunities > 0 {
		return float64(c.Occurrences), float64(c.Opportunities)
	}
	n = max(1, math.Round(float64(len(r.Residuals))/period))
	phases := map[int64]float64{}
	for _, e := range r.Events {
		if e.Kind == beat.Late || e.Kind == beat.Early {
			phase := int64(math.Mod(float64(e.Beat), period))
			phases[phase]++
			k = max(k, phases[phase])
		}
	}
	return min(k, n), n
}

// waves compares the height of a regular unevenness.
func (c *comparer) waves(m *Metric, period float64, in []*analysis.Recurrence) {
	m.Unit = "ms"
	figures, variance, freedom := make([]float64, len(c.all)), 0.0, math.Inf(1)
	perWindow := c.all[0].Width() / (float64(c.all[0].Summary.Beat.Period) / 2)
	outside := period > perWindow/2 || period < 2 // the fit of a window takes most of it out of the residuals
	for k, r := range c.all {
		switch {
		case !outside:
			size, se, free := wave(r.Residuals, period)
			figures[k] = 2e3 * size
			variance += math.Pow(2e3*c.share(k)*se, 2)
			freedom = min(freedom, free)
		case in[k] == nil:
			figures[k] = math.NaN()
		default:
			figures[k] = float64(in[k].Size)
		}
	}
	m.set(c.first, figures)
	if !outside {
		m.setError(stats.Mixture{{Weight: 1, Sigma: math.Sqrt(variance), Freedom: freedom}})
	}
}

// wave returns the amplitude of the unevenness with a period in beats, its
// standard error and the degrees of freedom of that, from parts of the run of
// whole turns each.
func wave(residuals []float32, period float64) (size, se, freedom float64) {
	const parts = 24
	turns := math.Floor(float64(len(residuals)) / period / parts)
	if turns < 1 {
		return math.NaN(), math.NaN(), 0
	}
	length := int(turns * period)
	var phasors []complex128
	var sum complex128
	for p := range parts {
		var z complex128
		n := 0.0
		for i := p * length; i < (p+1)*length; i++ {
			if x := float64(residuals[i]); !math.IsNaN(x) {
				z += complex(x, 0) * cmplx.Rect(1, -2*math.Pi*float64(i)/period)
				n++
			}
		}
		if n > float64(length)/2 {
			z *= complex(2/n, 0)
			phasors = append(phasors, z)
			sum += z
		}
	}
	n := float64(len(phasors))
	if n < 4 {
		return math.NaN(), math.NaN(), 0
	}
	mean := sum / complex(n, 0)
	scatter := 0.0
	for _, z := range phasors {
		d := z - mean
		scatter += real(d)*real(d) + imag(d)*imag(d)
	}
	return cmplx.Abs(mean), math.Sqrt(scatter / (2 * (n - 1) * n)), n - 1
}
