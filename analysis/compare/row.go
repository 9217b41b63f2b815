package compare

// Row is a metric as it is printed for people.
type Row struct {
	Label         string // with the unit
	Before, After string
	Difference    string
	Interval      string // of the difference, 95 %
	Verdict       Verdict
}

// Row prints the metric.
func (m *Metric) Row() Row {
	r := Row{Label: m.Label, Before: m.number(m.Before), After: m.number(m.After), Difference: m.change(m.Difference), Interval: "–", Verdict: m.Verdict}
	if m.Unit != "" {
		r.Label += " (" + m.Unit + ")"
	}
	if m.Low.Known() {
		r.Interval = m.change(m.Low) + " to " + m.change(m.High)
	}
	return r
}
