package compare

import (
	"fmt"
	"slices"
	"strings"
	"testing"

	"rundown/analysis"
)

// The example of Y. Benjamini and Y. Hochberg, JRSS B 57 (1995), section 3.2
// (from memory): of 15 hypotheses, three are rejected where any false rejection at
// all is to be guarded against. One that is named beforehand needs less.
func TestDecideAllowsForManyFigures(t *testing.T) {
	ps := []analysis.Number{0.0001, 0.0004, 0.0019, 0.0095, 0.0201, 0.0278, 0.0298, 0.0344, 0.0459, 0.3240, 0.4262, 0.5719, 0.6528, 0.7590, 1}
	for named, want := range map[string][]int{"": {0, 1, 2}, "figure 7": {0, 1, 2, 7}, "figure 9": {0}} {
		var ms []Metric
		for i, p := range ps {
			m := blank(fmt.Sprintf("figure %d", i), "figure", "", Larger, "")
			m.set(1, []float64{1, 2})
			m.interval(0.5, 1.5, float64(p))
			ms = append(ms, m)
		}
		ms = append(ms, blank("unknown", "unknown", "", Larger, ""))
		if err := decide(ms, named); err != nil {
			t.Fatal(err)
		}
		for i, m := range ms {
			if shown := m.Verdict == Better; shown != slices.Contains(want, i) {
				t.Errorf("named %q: figure %d with p %v: %s", named, i, m.PValue, m.Verdict)
			}
		}
		if err := decide(ms, "figure"); err == nil || !strings.Contains(err.Error(), "figure 14") {
			t.Errorf("a figure that is not there: %v", err)
		}
	}
}

func TestDecideDirection(t *testing.T) {
	cases := []struct {
		aim           Aim
		before, after float64
		want          Verdict
	}{
		{NearerZero, 5, 2, Better},
		{NearerZero, -2, 5, Worse},
		{NearerZero, -5, 2, Better},
		{Smaller, 3, 1, Better},
		{Smaller, 1, 3, Worse},
		{Larger, 1, 3, Better},
		{Larger, 3, 1, Worse},
	}
	for _, c := range cases {
		m := blank("figure", "figure", "", c.aim, "")
		m.set(1, []float64{c.before, c.after})
		d := c.after - c.before
		m.interval(d-0.1, d+0.1, 1e-6)
		ms := []Metric{m}
		decide(ms, "")
		if ms[0].Verdict != c.want {
			t.Errorf("%v to %v, %s: %s, want %s", c.before, c.after, c.aim, ms[0].Verdict, c.want)
		}
		ms[0].Low, ms[0].High = -9, 9 // the interval has the last word
		if decide(ms, ""); ms[0].Verdict != NoDifference {
			t.Errorf("an interval over zero: %s", ms[0].Verdict)
		}
	}
}

func TestHeadline(t *testing.T) {
	a := blank("a", "mean rate", "s/day", NearerZero, "")
	a.set(1, []float64{4.04, 1.06})
	a.interval(-3.5, -2.5, 0)
	b := blank("b", "stops", "/h", Smaller, "")
	b.set(1, []float64{0, 2})
	b.interval(1.1, 2.9, 0)
	c := blank("c", "beat error", "ms", NearerZero, "")
	ms := []Metric{a, b, c}
	if got, want := headline(ms, false), "No difference shown in any of 3 figures: chance alone makes two runs as unlike as these."; got != want {
		t.Errorf("%q", got)
	}
	ms[0].Verdict, ms[1].Verdict = Better, Worse
	if got, want := headline(ms, false), "Better: mean rate (4.04 to 1.06 s/day); worse: stops (0.00 to 2.00/h); no difference shown in 1 other figure."; got != want {
		t.Errorf("%q, want %q", got, want)
	}
}
