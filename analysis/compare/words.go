package compare

import (
	"fmt"
	"slices"
	"strings"

	"rundown/analysis"
	"rundown/analysis/prose"
)

// headline says in one sentence what became of the movement: with repeats, of the
// change; without, of the two runs alone.
func headline(ms []Metric, repeated bool) string {
	by := map[Verdict][]string{}
	for i := range ms {
		m := &ms[i]
		by[m.Verdict] = append(by[m.Verdict], fmt.Sprintf("%s (%s to %s)", m.Label, m.number(m.Before), quantity(m.number(m.After), m.Unit)))
	}
	same := len(by[NoDifference])
	if same == len(ms) {
		if repeated {
			return fmt.Sprintf("No difference shown in any of %d figures: runs of one state are as unlike as these.", same)
		}
		return fmt.Sprintf("No difference shown in any of %d figures: chance alone makes two runs as unlike as these.", same)
	}
	of := ""
	if repeated {
		of = " by the change"
	}
	var parts []string
	for _, v := range []Verdict{Better, Worse} {
		if len(by[v]) > 0 {
			parts = append(parts, string(v)+of+": "+strings.Join(by[v], ", "))
		}
	}
	text := strings.Join(parts, "; ")
	text = strings.ToUpper(text[:1]) + text[1:]
	switch {
	case same == 1:
		text += "; no difference shown in 1 other figure"
	case same > 1:
		text += fmt.Sprintf("; no difference shown in %d other figures", same)
	}
	return text + "."
}

// repeats says what the number of runs lets a verdict say, and what more runs
// would show.
func repeats(ms []Metric, before, after int) string {
	text := "With one run of either state, a verdict is of this pair of runs: what two windings of one unchanged movement differ by is not in it, and only repeats tell."
	if before+after > 2 {
		text = fmt.Sprintf("What runs of one state differ by was found from %s before and %s after, figure by figure, and is part of every interval.",
			prose.Count(before, "run", "runs"), prose.Count(after, "run", "runs"))
	}
	var few []string
	many := 0
	for i := range ms {
		switch m := &ms[i]; {
		case m.Verdict != NoDifference || !m.PValue.Known():
		case m.Needed > 0:
			few = append(few, fmt.Sprintf("%d for %s", m.Needed, m.Label))
		default:
			many++
		}
	}
	if few == nil {
		if many > 0 {
			text += fmt.Sprintf(" Differences of the size seen would take more than %d runs of either state to show.", MostRuns)
		}
		return text
	}
	at := "If they differ by no more than what a run does not know of itself, d"
	if before+after > 2 {
		at = "D"
	}
	text += " " + at + "ifferences of the size seen would show in 8 of 10 such sets with so many runs of either state: " + strings.Join(few, ", ")
	if many > 0 {
		text += fmt.Sprintf("; more than %d for the others", MostRuns)
	}
	return text + "."
}

func quantity(number, unit string) string {
	switch {
	case number == "–":
		return number
	case strings.HasPrefix(unit, "/"), unit == "°":
		return number + unit
	}
	return number + " " + unit
}

// number prints a figure to two digits of the interval's half-width.
func (m *Metric) number(x analysis.Number) string {
	if !x.Known() {
		return "–"
	}
	return prose.Unsigned(float64(x), prose.Decimals(float64(m.High-m.Low)/2))
}

// change prints a difference, with its sign.
func (m *Metric) change(x analysis.Number) string {
	if !x.Known() {
		return m.number(x)
	}
	return prose.Signed(float64(x), prose.Decimals(float64(m.High-m.Low)/2))
}

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
