package compare

import (
	"encoding/csv"
	"encoding/json"
	"fmt"
	"io"
	"strings"
	"unicode/utf8"

	"rundown/analysis"
	"rundown/analysis/prose"
	"rundown/dsp/wavio"
)

// WriteJSON writes the comparison as indented JSON with a final newline.
func (c *Comparison) WriteJSON(w io.Writer) error {
	enc := json.NewEncoder(w)
	enc.SetEscapeHTML(false)
	enc.SetIndent("", "  ")
	return enc.Encode(c)
}

// WriteCSV writes the table of metrics.
func (c *Comparison) WriteCSV(w io.Writer) error {
	t := csv.NewWriter(w)
	t.Write([]string{"name", "unit", "before", "after", "difference", "low_95", "high_95", "p_value", "verdict", "better_is", "over", "note"})
	number := func(x analysis.Number) string {
		if !x.Known() {
			return ""
		}
		text, _ := x.MarshalJSON()
		return string(text)
	}
	for _, m := range c.Metrics {
		t.Write([]string{
			prose.Cell(m.Name), m.Unit, number(m.Before), number(m.After), number(m.Difference), number(m.Low), number(m.High),
			number(m.PValue), string(m.Verdict), string(m.Aim), prose.Cell(m.Over), prose.Cell(m.Note),
		})
	}
	t.Flush()
	return t.Error()
}

// WriteText writes the comparison for a person to read in ten seconds. dir is
// the folder that it points to, empty for none.
func (c *Comparison) WriteText(w io.Writer, dir string) error {
	var b strings.Builder
	fmt.Fprintf(&b, "before  %s\nafter   %s\n\n", wavio.OneLine(c.Before.Path), wavio.OneLine(c.After.Path))
	rows := [][]string{{"", "before", "after", "difference", "95 % interval", ""}}
	for i := range c.Metrics {
		r := c.Metrics[i].Row()
		rows = append(rows, []string{r.Label, r.Before, r.After, r.Difference, r.Interval, string(r.Verdict)})
	}
	layOut(&b, rows)
	fmt.Fprintf(&b, "\n%s\n\n", c.Headline)
	for i := range c.Metrics {
		if m := &c.Metrics[i]; m.Note != "" {
			fmt.Fprintf(&b, "%s%s: %s\n", strings.ToUpper(m.Label[:1]), m.Label[1:], m.Note)
		}
	}
	for _, note := range c.Notes {
		b.WriteString(note + "\n")
	}
	fmt.Fprintf(&b, "Windows are aligned by %s. Verdicts allow for %d figures compared at once.\n", c.Alignment, len(c.Metrics))
	if dir != "" {
		fmt.Fprintf(&b, "Results: %s\n", wavio.OneLine(dir))
	}
	_, err := io.WriteString(w, prose.Printable(b.String()))
	return err
}

// layOut writes rows in columns, the first and the last set to the left.
func layOut(b *strings.Builder, rows [][]string) {
	width := make([]int, len(rows[0]))
	for _, row := range rows {
		for i, text := range row {
			width[i] = max(width[i], utf8.RuneCountInString(text))
		}
	}
	for _, row := range rows {
		var line strings.Builder
		for i, text := range row {
			pad := strings.Repeat(" ", width[i]-utf8.RuneCountInString(text))
			switch i {
			case 0:
				line.WriteString(text + pad)
			case len(row) - 1:
				line.WriteString("  " + text)
			default:
				line.WriteString("  " + pad + text)
			}
		}
		b.WriteString(strings.TrimRight(line.String(), " ") + "\n")
	}
}
