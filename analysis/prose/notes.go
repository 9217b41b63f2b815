package prose

import (
	"fmt"
	"strings"

	"rundown/analysis"
	"rundown/analysis/environment"
	"rundown/analysis/notes"
)

// Notes says what was noted of a run, on one line; empty for nothing.
func Notes(n notes.Notes) string {
	var parts []string
	for _, p := range []struct{ name, text string }{{"", n.Label}, {"", n.Position}, {"oil ", n.Oil}, {"part ", n.Part}} {
		if p.text != "" {
			parts = append(parts, p.name+p.text)
		}
	}
	if n.Temperature != nil {
		parts = append(parts, Plain(analysis.Number(*n.Temperature), "°C"))
	}
	if n.Started != "" {
		parts = append(parts, "begun "+strings.Replace(n.Started, "T", " ", 1))
	}
	return strings.Join(parts, "; ")
}

// Environment says what the environment had to do with a run, whole sentences.
func Environment(r *environment.Report) []string {
	var out []string
	for _, of := range []struct {
		figure   string
		relation *environment.Relation
	}{{"rate", r.Rate}, {"amplitude", r.Amplitude}} {
		if of.relation == nil {
			continue
		}
		for _, e := range of.relation.Causes {
			out = append(out, effect(of.figure, of.relation.Unit, e))
		}
	}
	for _, note := range r.Notes {
		out = append(out, first(note))
	}
	return out
}

// effect says what one cause does.
func effect(figure, unit string, e environment.Effect) string {
	per := unit + " per " + e.Unit
	if e.Unit == "" {
		per = unit + " in its unit"
	}
	interval := fmt.Sprintf("95"+after("%%")+" interval %s to %s", Signed(e.Low, Decimals(e.SE)), Signed(e.High, Decimals(e.SE)))
	who := first(e.Cause)
	with := ""
	if len(e.Together) > 0 {
		with = fmt.Sprintf(" It went together with %s: which of them acts cannot be told, and the figure is as if it were this one alone.", strings.Join(e.Together, " and "))
	}
	if !e.Claimed {
		return fmt.Sprintf("%s: no effect on the %s is shown; %s %s.%s", who, figure, interval, per, with)
	}
	moved := e.X * (e.To - e.From)
	if moved < 0 {
		moved = -moved
	}
	return fmt.Sprintf("%s: the %s changes by %s (%s). From %s to %s in this run, that is %s; without it the variance of the %s would be %.0f"+space+"%% less.%s",
		who, figure, SignedWithError(analysis.Number(e.X), analysis.Number(e.SE), per), interval,
		Plain(analysis.Number(e.From), e.Unit), Plain(analysis.Number(e.To), e.Unit), Plain(analysis.Number(moved), unit), figure, 100*e.Share, with)
}

// first begins a sentence with a text.
func first(text string) string {
	if text == "" {
		return text
	}
	r := []rune(text)
	return strings.ToUpper(string(r[:1])) + string(r[1:])
}
