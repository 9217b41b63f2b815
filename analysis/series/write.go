package series

import (
	"encoding/csv"
	"fmt"
	"io"
	"slices"
	"strconv"
	"strings"

	"rundown/analysis/environment"
	"rundown/analysis/prose"
	"rundown/dsp/wavio"
)

// WriteCSV writes the table, one row a run.
func (s *Series) WriteCSV(w io.Writer) error {
	t := csv.NewWriter(w)
	header := []string{"path", "started", "label", "position", "oil", "part", "temperature_c"}
	for _, f := range s.Figures {
		header = append(header, f.Name, f.Name+"_se")
	}
	t.Write(header)
	for _, r := range s.Runs {
		warm := ""
		if r.Notes.Temperature != nil {
			warm = strconv.FormatFloat(*r.Notes.Temperature, 'g', -1, 64)
		}
		row := []string{prose.Cell(r.Path), r.Notes.Started, prose.Cell(r.Notes.Label), prose.Cell(r.Notes.Position), prose.Cell(r.Notes.Oil), prose.Cell(r.Notes.Part), warm}
		for _, v := range r.Values {
			row = append(row, v.X.Cell(), v.SE.Cell())
		}
		t.Write(row)
	}
	t.Flush()
	return t.Error()
}

// Text is a value as it is printed for people.
func (v Value) Text() string {
	if !v.X.Known() {
		return "–"
	}
	return strings.TrimSpace(prose.WithError(v.X, v.SE, ""))
}

// Columns are the figures as they are printed for people.
func (s *Series) Columns() []string {
	var out []string
	for _, f := range s.Figures {
		out = append(out, f.Label+" ("+f.Unit+")")
	}
	return out
}

// Cells are values as they are printed for people.
func Cells(values []Value) []string {
	var out []string
	for _, v := range values {
		out = append(out, v.Text())
	}
	return out
}

// Sentences say what the positions and the environment do, whole sentences.
func (s *Series) Sentences() []string {
	var out []string
	for _, span := range s.Spans {
		f := s.Figures[slices.IndexFunc(s.Figures, func(f Figure) bool { return f.Name == span.Figure })]
		of := ""
		if span.Label != "" {
			of = ", " + span.Label
		}
		out = append(out, fmt.Sprintf("Largest difference of the %s between positions%s: %s, from %s to %s.",
			f.Label, of, prose.WithError(span.Value.X, span.Value.SE, f.Unit), span.From, span.To))
	}
	r := &environment.Report{Rate: s.Effects["mean_rate"]}
	for _, name := range []string{"amplitude", "lift_time", "level"} {
		if e := s.Effects[name]; e != nil {
			r.Amplitude = e
		}
	}
	return append(out, prose.Environment(r)...)
}

// WriteText writes the series for a person to read. dir is the folder that it
// points to, empty for none.
func (s *Series) WriteText(w io.Writer, dir string) error {
	var b strings.Builder
	for i, r := range s.Runs {
		fmt.Fprintf(&b, "%3d  %s", i+1, wavio.OneLine(r.Name))
		if noted := prose.Notes(r.Notes); noted != "" {
			b.WriteString("  (" + noted + ")")
		}
		b.WriteByte('\n')
	}
	rows := [][]string{append([]string{"run"}, s.Columns()...)}
	for i, r := range s.Runs {
		rows = append(rows, append([]string{strconv.Itoa(i + 1)}, Cells(r.Values)...))
	}
	b.WriteByte('\n')
	prose.Columns(&b, rows)
	for _, part := range []struct {
		title  string
		groups []Group
	}{{"label", s.Labels}, {"position", s.Positions}} {
		if len(part.groups) == 0 {
			continue
		}
		rows := [][]string{append([]string{part.title, "runs"}, s.Columns()...)}
		for _, g := range part.groups {
			rows = append(rows, append([]string{g.Name(), strconv.Itoa(g.Runs)}, Cells(g.Values)...))
		}
		b.WriteByte('\n')
		prose.Columns(&b, rows)
	}
	b.WriteByte('\n')
	for _, sentence := range append(s.Sentences(), s.Notes...) {
		b.WriteString(sentence + "\n")
	}
	if dir != "" {
		fmt.Fprintf(&b, "Results: %s\n", wavio.OneLine(dir))
	}
	_, err := io.WriteString(w, prose.Terminal(b.String()))
	return err
}

// Name is what the runs of a group have in common.
func (g Group) Name() string {
	switch {
	case g.Label == "" && g.Position == "":
		return "(no label)"
	case g.Position == "":
		return g.Label
	case g.Label == "":
		return g.Position
	}
	return g.Label + ", " + g.Position
}
