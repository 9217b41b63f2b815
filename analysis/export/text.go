package export

import (
	"fmt"
	"io"
	"strings"
	"unicode/utf8"

	"rundown/analysis"
	"rundown/analysis/prose"
	"rundown/dsp/wavio"
)

// The shape of the summary on a terminal, in characters.
const (
	labelWidth = 13
	textWidth  = 96
)

// recurrencesShown is how many of them a glance takes in; all are in the
// tables.
const recurrencesShown = 3

// Text writes the summary for a person to read in ten seconds. dir is the
// results folder that it points to, empty for none.
func Text(w io.Writer, s *analysis.Summary, dir string) error {
	var p page
	p.title(s)
	if s.Status == analysis.OK {
		p.figures(s)
	}
	for _, problem := range s.Recording.Problems {
		p.line("Problem", problem)
	}
	p.line("Look next", prose.Advice(s))
	if dir != "" {
		fmt.Fprintf(&p, "%-*s%s\n", labelWidth, "Results", wavio.OneLine(dir)) // never wrapped, to be copied whole
	}
	_, err := io.WriteString(w, prose.Terminal(p.String()))
	return err
}

// page is a text of labelled lines.
type page struct{ strings.Builder }

func (p *page) title(s *analysis.Summary) {
	fmt.Fprintf(p, "%s, %s, %s\n", prose.Name(s), prose.Span(s.Recording.Duration), prose.Sound(s))
	if noted := prose.Notes(s.Notes); noted != "" {
		p.paragraph(noted)
	}
	p.WriteByte('\n')
	p.paragraph(prose.Finding(s))
	p.WriteByte('\n')
}

func (p *page) figures(s *analysis.Summary) {
	p.line("Beat", prose.Beat(s))
	p.line("Rate", prose.Rate(s))
	p.line("Stable band", prose.Band(s))
	p.line("Beat error", prose.BeatError(s))
	p.line("Amplitude", prose.Amplitude(s))
	p.line("Events", prose.Events(s))
	for i := range s.Recurrences[:min(len(s.Recurrences), recurrencesShown)] {
		p.line("Comes round", prose.Recurrence(&s.Recurrences[i]))
	}
	if s.Stability != nil {
		p.line("Day to day", prose.Day(s.Stability))
	}
	if s.Environment != nil {
		for _, sentence := range prose.Environment(s.Environment) {
			p.line("Environment", sentence)
		}
	}
	p.line("Clock", prose.Clock(s))
	if mark := prose.Mark(s); mark != "" {
		p.line("Mark", mark)
	}
}

// line writes one labelled line, wrapped under its text.
func (p *page) line(label, text string) {
	fmt.Fprintf(p, "%-*s", labelWidth, label)
	p.wrapped(text, labelWidth)
}

// paragraph writes a text over the whole width.
func (p *page) paragraph(text string) { p.wrapped(text, 0) }

// wrapped writes a text in lines that begin at a column.
func (p *page) wrapped(text string, indent int) {
	column := indent
	for i, word := range strings.Split(text, " ") {
		n := utf8.RuneCountInString(word)
		switch {
		case i == 0:
		case column+1+n > textWidth:
			fmt.Fprintf(p, "\n%*s", indent, "")
			column = indent
		default:
			p.WriteByte(' ')
			column++
		}
		p.WriteString(word)
		column += n
	}
	p.WriteByte('\n')
}

// Clip writes the sound around an event as a 16-bit mono WAV file.
func Clip(w io.Writer, c analysis.Clip, sampleRate int) error {
	out, err := wavio.NewWriter(w, wavio.Format{SampleRate: sampleRate, Channels: 1, BitsPerSample: 16, Frames: int64(len(c.Samples))})
	if err != nil {
		return err
	}
	samples := make([]float32, len(c.Samples))
	for i, x := range c.Samples {
		samples[i] = float32(x) / (1 << 15)
	}
	if err := out.Write([][]float32{samples}); err != nil {
		return err
	}
	return out.Close()
}
