package compare

import "slices"

// Row is a metric as it is printed for people.
type Row struct {
	Label         string // with the unit
	Before, After string
	RunSD         string // of runs of one state; "–" without repeats
	Difference    string
	Interval      string // of the difference, 95 %
	Verdict       Verdict
}

// Row prints the metric.
func (m *Metric) Row() Row {
	r := Row{Label: m.Label, Before: m.number(m.Before), After: m.number(m.After), RunSD: m.number(m.RunSD), Difference: m.change(m.Difference), Interval: "–", Verdict: m.Verdict}
	if m.Unit != "" {
		r.Label += " (" + m.Unit + ")"
	}
	if m.Low.Known() {
		r.Interval = m.change(m.Low) + " to " + m.change(m.High)
	}
	return r
}

// Figures are those of every run as they are printed for people, those before
// first.
func (m *Metric) Figures() []string {
	var out []string
	for _, x := range slices.Concat(m.BeforeRuns, m.AfterRuns) {
		out = append(out, m.number(x))
	}
	return out
}
