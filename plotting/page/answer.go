package page

import (
	"fmt"
	"math"
	"slices"

	"rundown/analysis"
	"rundown/analysis/beat"
	"rundown/analysis/prose"
	"rundown/analysis/rate"
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

// part is one of equal parts of the run.
type part struct{ From, To, Rate, Amplitude, BeatError, Heard string }

// mostParts is into how many parts the run is divided for the table.
const mostParts = 8

// parts divides the run into equal numbers of windows.
func parts(r Run) []part {
	n := len(r.Windows)
	count := min(mostParts, n)
	var ps []part
	for i := range count {
		ps = append(ps, newPart(r.Windows[i*n/count:(i+1)*n/count], r.AmplitudeKind))
	}
	return ps
}

func newPart(ws []rate.Window, kind rate.AmplitudeKind) part {
	beats, heard := 0, 0
	for _, w := range ws {
		beats, heard = beats+w.Beats, heard+w.Heard
	}
	share := "–"
	if beats > 0 {
		share = prose.Plain(analysis.Number(100*float64(heard)/float64(beats)), "%")
	}
	scale, unit := amplitudeUnit(kind)
	return part{
		From:      prose.Span(analysis.Number(ws[0].Start)),
		To:        prose.Span(analysis.Number(ws[len(ws)-1].End)),
		Rate:      mean(ws, 1, "s/day", false, prose.SignedWithError, func(w rate.Window) rate.Value { return w.Rate }),
		Amplitude: mean(ws, scale, unit, kind != rate.Level, prose.WithError, func(w rate.Window) rate.Value { return w.Amplitude }),
		BeatError: mean(ws, 1e3, "ms", true, prose.SignedWithError, func(w rate.Window) rate.Value { return w.BeatError }),
		Heard:     share,
	}
}

// amplitudeUnit is how amplitudes of a kind are written.
func amplitudeUnit(kind rate.AmplitudeKind) (scale float64, unit string) {
	switch kind {
	case rate.Degrees:
		return 1, "°"
	case rate.LiftTime:
		return 1e3, "ms"
	}
	return 1, "dBFS"
}

// mean writes the mean of a figure of windows that has one, each counting as
// many times as it has beats heard. shared is that nearly all of their errors is one that
// they have in common: where the sounds are that bound the lift.
func mean(ws []rate.Window, scale float64, unit string, shared bool, write func(x, se analysis.Number, unit string) string, pick func(rate.Window) rate.Value) string {
	var sum, errors, variance, weight float64
	for _, w := range ws {
		v := pick(w)
		if n := float64(w.Heard); n > 0 && !math.IsNaN(v.X) {
			sum, weight = sum+n*v.X, weight+n
			errors += n * v.SE
			variance += n * n * v.SE * v.SE
		}
	}
	if weight == 0 {
		return "–"
	}
	if !shared {
		errors = math.Sqrt(variance)
	}
	return write(analysis.Number(scale*sum/weight), analysis.Number(scale*errors/weight), unit)
}

// width is a stable band for one tolerance.
type width struct {
	Allowed, From, To, Lasts, Mean string
	Chosen                         bool
}

// widths says how long the rate is steady for stricter and looser demands.
func widths(r Run) []width {
	chosen := float64(r.StableBand.Tolerance)
	tolerances := []float64{1, 2, 5, 10, 20, 50}
	if !slices.Contains(tolerances, chosen) {
		tolerances = append(tolerances, chosen)
		slices.Sort(tolerances)
	}
	var ws []width
	for _, tolerance := range tolerances {
		w := width{Allowed: prose.Plain(analysis.Number(tolerance), "s/day"), From: "–", To: "–", Lasts: "none", Mean: "–", Chosen: tolerance == chosen}
		if b, ok := rate.StableBand(r.Windows, tolerance); ok {
			w.From, w.To = prose.Span(analysis.Number(b.Start)), prose.Span(analysis.Number(b.End))
			w.Lasts = prose.Span(analysis.Number(b.End - b.Start))
			w.Mean = prose.SignedWithError(analysis.Number(b.Mean.X), analysis.Number(b.Mean.SE), "s/day")
		}
		ws = append(ws, w)
	}
	return ws
}
