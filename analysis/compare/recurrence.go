package compare

import (
	"fmt"
	"math"
	"math/cmplx"

	"gonum.org/v1/gonum/stat/distuv"

	"rundown/analysis"
	"rundown/analysis/beat"
	"rundown/analysis/runs"
)

// recurrences compares the strongest recurrence before, and the strongest
// after where that is another one.
func recurrences(before, after *runs.Run) []Metric {
	a, b := before.Summary.Recurrences, after.Summary.Recurrences
	var ms []Metric
	if len(a) > 0 {
		ms = append(ms, recurrence(before, after, &a[0], "strongest_recurrence", "strongest recurrence"))
	}
	if len(b) > 0 && (len(a) == 0 || !same(&a[0], &b[0])) {
		name, label := "strongest_recurrence", "strongest recurrence"
		if len(a) > 0 {
			name, label = "strongest_recurrence_after", "strongest recurrence after"
		}
		ms = append(ms, recurrence(before, after, &b[0], name, label))
	}
	return ms
}

// same reports that two recurrences may come from one part of the train.
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

func recurrence(before, after *runs.Run, c *analysis.Recurrence, name, label string) Metric {
	m := blank(name, label, "", Smaller, wholeRun)
	in := [2]*analysis.Recurrence{listed(before, c), listed(after, c)}
	if c.Kind == "events" {
		m.turns(before, after, c, in)
	} else {
		m.waves(before, after, float64(c.PeriodBeats), in)
	}
	what := fmt.Sprintf("every %.6g beats", float64(c.PeriodBeats))
	if c.Match != "" {
		what = c.Match + ", " + what
	}
	state := "still there"
	switch {
	case in[0] == nil:
		state = "new"
	case in[1] == nil:
		state = "gone"
	case m.Difference != 0:
		state = "changed"
	}
	m.Note = fmt.Sprintf("%s: %s.", what, state)
	return m
}

// turns compares the share of turns with an event.
func (m *Metric) turns(before, after *runs.Run, c *analysis.Recurrence, in [2]*analysis.Recurrence) {
	m.Unit = "% of turns"
	ka, na := acted(before, float64(c.PeriodBeats), in[0])
	kb, nb := acted(after, float64(c.PeriodBeats), in[1])
	a, b := ka/na, kb/nb
	lowA, highA := clopper(ka, na)
	lowB, highB := clopper(kb, nb)
	d := b - a
	m.set(100*a, 100*b)
	m.interval(100*(d-math.Hypot(b-lowB, highA-a)), 100*(d+math.Hypot(highB-b, a-lowA)), fisher(ka, na, kb, nb))
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

// clopper returns the exact 95 % interval of a proportion (C. J. Clopper and E.
// S. Pearson, Biometrika 26, 1934).
func clopper(k, n float64) (low, high float64) {
	high = 1
	if k > 0 {
		low = distuv.Beta{Alpha: k, Beta: n - k + 1}.Quantile(0.025)
	}
	if k < n {
		high = distuv.Beta{Alpha: k + 1, Beta: n - k}.Quantile(0.975)
	}
	return low, high
}

// fisher is the two-sided probability of two proportions as unlike as these if
// they are one (R. A. Fisher's exact test, tails doubled).
func fisher(ka, na, kb, nb float64) float64 {
	choose := func(n, k float64) float64 {
		lg := func(x float64) float64 { y, _ := math.Lgamma(x + 1); return y }
		return lg(n) - lg(k) - lg(n-k)
	}
	all := ka + kb
	tail := func(from, to float64) float64 {
		p := 0.0
		for k := max(from, all-na, 0); k <= min(to, nb, all); k++ {
			p += math.Exp(choose(nb, k) + choose(na, all-k) - choose(na+nb, all))
		}
		return p
	}
	return min(1, 2*min(tail(0, kb), tail(kb, math.Inf(1))))
}

// waves compares the height of a regular unevenness.
func (m *Metric) waves(before, after *runs.Run, period float64, in [2]*analysis.Recurrence) {
	m.Unit = "ms"
	perWindow := before.Width() / (float64(before.Summary.Beat.Period) / 2)
	if period > perWindow/2 || period < 2 {
		// The fit of a window takes most of it out of the residuals.
		size := func(c *analysis.Recurrence) float64 {
			if c == nil {
				return math.NaN()
			}
			return float64(c.Size)
		}
		m.set(size(in[0]), size(in[1]))
		return
	}
	a, seA, freeA := wave(before.Residuals, period)
	b, seB, freeB := wave(after.Residuals, period)
	m.set(2e3*a, 2e3*b)
	m.doubt(doubt{{1, 2e3 * math.Hypot(seA, seB), min(freeA, freeB)}})
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
