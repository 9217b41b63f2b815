package compare

import (
	"fmt"
	"math"
	"strconv"
	"strings"

	"rundown/analysis"
)

// headline says in one sentence what became of the movement.
func headline(ms []Metric) string {
	by := map[Verdict][]string{}
	for i := range ms {
		m := &ms[i]
		by[m.Verdict] = append(by[m.Verdict], fmt.Sprintf("%s (%s to %s)", m.Label, m.number(m.Before), quantity(m.number(m.After), m.Unit)))
	}
	same := len(by[NoDifference])
	if same == len(ms) {
		return fmt.Sprintf("No difference shown in any of %d figures: chance alone makes two runs as unlike as these.", same)
	}
	var parts []string
	for _, v := range []Verdict{Better, Worse} {
		if len(by[v]) > 0 {
			parts = append(parts, string(v)+": "+strings.Join(by[v], ", "))
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
	half := float64(m.High-m.Low) / 2
	decimals := 2
	if half > 0 && !math.IsInf(half, 0) {
		decimals = min(max(1-int(math.Floor(math.Log10(half))), 0), 6)
	}
	return strings.Replace(strconv.FormatFloat(float64(x), 'f', decimals, 64), "-", "−", 1)
}

// change prints a difference, with its sign.
func (m *Metric) change(x analysis.Number) string {
	text := m.number(x)
	if strings.HasPrefix(text, "−") || strings.Trim(text, "0.–") == "" {
		return text
	}
	return "+" + text
}
