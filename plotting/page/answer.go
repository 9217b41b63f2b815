package page

import (
	"fmt"
	"math"

	"rundown/analysis"
	"rundown/analysis/beat"
	"rundown/analysis/prose"
)

// facts says what was recorded.
func facts(r Run) []entry {
	s := &r.Summary
	fs := []entry{
		{"Length", prose.Span(s.Recording.Duration)},
		{"Sound", prose.Sound(s)},
	}
	if noted := prose.Notes(s.Notes); noted != "" {
		fs = append(fs, entry{"Noted", noted})
	}
	if s.Status != analysis.OK {
		return fs
	}
	if len(r.Windows) > 0 {
		fs = append(fs, entry{"Each window", prose.Span(analysis.Number(r.Windows[0].End - r.Windows[0].Start))})
	}
	return append(fs,
		entry{"Nominal", prose.PerHour(s.Beat.Nominal) + " beats an hour"},
		entry{"Recorder's clock", clockInShort(s)},
	)
}

func clockInShort(s *analysis.Summary) string {
	if !s.Recording.ClockVerified {
		return "not checked"
	}
	return "checked, " + prose.Clock(s)
}

// answers answers the questions from the summary.
func (v *view) answers(r Run) {
	s := &r.Summary
	v.Run = answer{Text: prose.Running(s), Entries: []entry{{"Beat", prose.Beat(s)}}}
	if b := s.Barrel; b != nil {
		v.Run.Entries = append(v.Run.Entries, entry{"Wind used", fmt.Sprintf("%.3g turns of the %s, each of %s", float64(b.Turns), b.Name, prose.Span(b.Turn))})
	}
	for _, ev := range r.Events {
		if ev.Kind == beat.Stop && len(v.Run.Entries) < 12 {
			v.Run.Entries = append(v.Run.Entries, entry{"Stopped at " + clock(ev.Start), standstill(ev, r.end())})
		}
	}
	v.Rate = answer{Entries: []entry{{"Rate", prose.Rate(s)}, {"Period", prose.Period(s)}, {"Amplitude", prose.Amplitude(s)}}}
	v.Parts = parts(r)
	if s.Environment != nil {
		v.Environment = prose.Environment(s.Environment)
	}
	v.Band = answer{Text: prose.Held(s), Entries: []entry{{"Stable band", prose.Band(s)}}}
	if s.Stability != nil {
		v.Band.Entries = append(v.Band.Entries, entry{"Day to day", prose.Day(s.Stability)})
	}
	v.Widths = widths(r)
	v.InBeat = answer{Text: prose.InBeat(s), Entries: []entry{{"Beat error", prose.BeatError(s)}}}
	v.wrong(s)
	v.trust(s)
}

// standstill says how long a stop lasted.
func standstill(ev beat.Event, end float64) string {
	text := prose.Span(analysis.Number(ev.End - ev.Start))
	if ev.End >= end {
		return text + ", to the end of the recording"
	}
	return text + ", then it went on"
}

// wrong lists what happened and what comes round.
func (v *view) wrong(s *analysis.Summary) {
	v.Wrong = answer{Text: prose.Trouble(s), Entries: []entry{{"Events", prose.Events(s)}}}
	for _, k := range beat.Kinds {
		if n := s.Events[k]; n > 0 {
			v.Kinds = append(v.Kinds, kind{k, prose.Grouped(int64(n)), prose.Kind(k)})
		}
	}
	for _, r := range s.Recurrences {
		seen := fmt.Sprintf("in %d of %s", r.Occurrences, prose.Count(r.Opportunities, "turn", "turns"))
		if r.Kind == "modulation" {
			seen = "over " + prose.Count(r.Occurrences, "turn", "turns")
		}
		match := r.Match
		if match == "" {
			match = "nothing that is known to turn so"
		}
		v.Recurrences = append(v.Recurrences, recurrence{
			Period: fmt.Sprintf("%.6g beats", float64(r.PeriodBeats)), Match: match, Seen: seen,
			Size: fmt.Sprintf("%.3g\u00a0ms", float64(r.Size)), P: chance(float64(r.PValue)), Note: r.Note,
		})
	}
}

// trust says how far the figures go.
func (v *view) trust(s *analysis.Summary) {
	v.Trust.Entries = append(v.Trust.Entries,
		entry{"Recorder's clock", prose.Clock(s) + "."},
		entry{"Error bars", prose.RateErrors(s)},
		entry{"Scatter", fmt.Sprintf("Single beats scatter by %.3g\u00a0µs about a smooth line, hearing them included. That alone leaves the mean rate uncertain by %.2g\u00a0s/day.",
			1e6*float64(s.Beat.Jitter), float64(s.Rate.SE))},
		entry{"Beats heard", heard(s)},
	)
	if mark := prose.Mark(s); mark != "" {
		v.Trust.Entries = append(v.Trust.Entries, entry{"Mark", "Taken at " + mark + "."})
	} else {
		v.Trust.Entries = append(v.Trust.Entries, entry{"Mark", "Each beat is timed at the middle of its lift, so that a falling amplitude does not pass for a change of rate."})
	}
}

func heard(s *analysis.Summary) string {
	b := s.Beat
	unheard := b.Counted - b.Heard
	if unheard == 0 {
		return "Every beat was heard."
	}
	share := 100 * float64(unheard) / math.Max(float64(b.Counted), 1)
	return fmt.Sprintf("%s of %s were not heard (%.2g\u00a0%%). They are counted, but their times are predicted and enter no figure.",
		prose.Grouped(unheard), prose.Count(int(b.Counted), "beat", "beats"), share)
}

// chance writes a small probability: below a thousand-millionth, nobody can
// vouch for the figure.
func chance(p float64) string {
	switch {
	case p < 1e-9:
		return "<\u00a010⁻⁹"
	case p >= 0.001:
		return fmt.Sprintf("%.1g", p)
	}
	exponent := math.Floor(math.Log10(p))
	return fmt.Sprintf("%.0f\u00a0×\u00a010⁻%c", p/math.Pow(10, exponent), []rune("⁰¹²³⁴⁵⁶⁷⁸⁹")[int(-exponent)])
}
