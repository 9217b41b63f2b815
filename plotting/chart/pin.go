package chart

import (
	"cmp"
	"fmt"
	"slices"
	"strings"

	"rundown/analysis/fault"
	"rundown/analysis/prose"
)

// mostPins is how many recurrences are marked on one chart: the strongest.
const mostPins = 4

// pin numbers the recurrences that have a place on the panel, and tells of them
// in its legend.
func (p *Panel) pin(recurrences []fault.Recurrence, place func(fault.Recurrence) (float64, bool)) {
	for _, r := range recurrences {
		at, ok := place(r)
		if !ok || len(p.Pins) == mostPins {
			continue
		}
		n := len(p.Pins) + 1
		p.Pins = append(p.Pins, Label{X: at, Text: fmt.Sprint(n)})
		p.Series = append(p.Series, Series{Name: fmt.Sprintf("%d: %s", n, recurrenceText(r)), Ink: rust, Mark: Down, Size: 2.4})
	}
}

// recurrenceText says what returns.
func recurrenceText(r fault.Recurrence) string {
	p := fmt.Sprintf("p = %.1g", r.PValue)
	if r.PValue < 0.001 {
		p = "p < 0.001"
	}
	size, period := prose.Unsigned(r.Size*1e3, 2)+" ms", strings.TrimSuffix(prose.Unsigned(r.PeriodBeats, 2), ".00")
	if r.Kind == fault.Events {
		return fmt.Sprintf("events every %s beats, in %d of %s, median %s, %s",
			period, r.Occurrences, count(r.Opportunities, "turn"), size, p)
	}
	return fmt.Sprintf("latest point of a swing every %s beats, %s peak to peak, %s", period, size, p)
}

// numbered are the numbers of the pins; those of pins too close to be read
// apart stand together, in the order of the arrows.
func numbered(p *Panel) []Label {
	near := p.X.span().width() / 25
	rest := slices.SortedStableFunc(slices.Values(p.Pins), func(a, b Label) int { return cmp.Compare(a.X, b.X) })
	var labels []Label
	for len(rest) > 0 {
		n := 1
		for n < len(rest) && rest[n].X-rest[n-1].X < near {
			n++
		}
		var numbers []string
		for _, one := range rest[:n] {
			numbers = append(numbers, one.Text)
		}
		labels = append(labels, Label{X: (rest[0].X + rest[n-1].X) / 2, Text: strings.Join(numbers, ", ")})
		rest = rest[n:]
	}
	return labels
}
