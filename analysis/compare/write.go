package compare

import (
	"encoding/csv"
	"fmt"
	"io"
	"slices"
	"strconv"
	"strings"

	"rundown/analysis/prose"
	"rundown/dsp/wavio"
)

// WriteCSV writes the table of metrics.
func (c *Comparison) WriteCSV(w io.Writer) error {
	t := csv.NewWriter(w)
	t.Write([]string{"name", "unit", "before", "after", "difference", "low_95", "high_95", "p_value", "verdict", "better_is", "over", "note", "run_to_run_sd", "runs_to_show"})
	for _, m := range c.Metrics {
		t.Write([]string{
			prose.Cell(m.Name), m.Unit, m.Before.Cell(), m.After.Cell(), m.Difference.Cell(), m.Low.Cell(), m.High.Cell(),
			m.PValue.Cell(), string(m.Verdict), string(m.Aim), prose.Cell(m.Over), prose.Cell(m.Note), m.RunSD.Cell(), needed(m.Needed),
		})
	}
	t.Flush()
	return t.Error()
}

// needed is a number of runs, empty where it is not known.
func needed(n int) string {
	if n == 0 {
		return ""
	}
	return strconv.Itoa(n)
}

// WriteText writes the comparison for a person to read in ten seconds. dir is
// the folder that it points to, empty for none.
func (c *Comparison) WriteText(w io.Writer, dir string) error {
	var b strings.Builder
	for _, s := range c.BeforeRuns {
		b.WriteString("before  " + s.line() + "\n")
	}
	for _, s := range c.AfterRuns {
		b.WriteString("after   " + s.line() + "\n")
	}
	rows := [][]string{{"", "before", "after", "difference", "95 % interval", ""}}
	if c.Repeated() {
		rows[0] = slices.Insert(rows[0], 3, "run to run")
	}
	for i := range c.Metrics {
		r := c.Metrics[i].Row()
		row := []string{r.Label, r.Before, r.After, r.Difference, r.Interval, string(r.Verdict)}
		if c.Repeated() {
			row = slices.Insert(row, 3, r.RunSD)
		}
		rows = append(rows, row)
	}
	b.WriteByte('\n')
	prose.Columns(&b, rows)
	fmt.Fprintf(&b, "\n%s\n\n", c.Headline)
	for i := range c.Metrics {
		if m := &c.Metrics[i]; m.Note != "" {
			fmt.Fprintf(&b, "%s%s: %s\n", strings.ToUpper(m.Label[:1]), m.Label[1:], m.Note)
		}
	}
	for _, note := range append(slices.Clone(c.Notes), c.Repeats) {
		b.WriteString(note + "\n")
	}
	fmt.Fprintf(&b, "Windows are aligned by %s. Verdicts allow for %d figures compared at once.\n", c.Alignment, len(c.Metrics))
	if dir != "" {
		fmt.Fprintf(&b, "Results: %s\n", wavio.OneLine(dir))
	}
	_, err := io.WriteString(w, prose.Terminal(b.String()))
	return err
}

// line is the run and what was noted of it.
func (s *Side) line() string {
	text := wavio.OneLine(s.Path)
	if noted := prose.Notes(s.Notes); noted != "" {
		text += "  (" + noted + ")"
	}
	return text
}
