package prose

import (
	"cmp"
	"fmt"
	"path/filepath"
	"strings"

	"rundown/analysis"
	"rundown/analysis/beat"
	"rundown/analysis/rate"
	"rundown/dsp/wavio"
)

// Beat says how fast the movement beats and how much of it was heard.
func Beat(s *analysis.Summary) string {
	b := s.Beat
	text := fmt.Sprintf("%s an hour, nominally %s (%s); %s in %s, %.4g%s%% of them heard",
		PerHour(b.Measured), PerHour(b.Nominal), source(b.Source),
		Count(int(b.Counted), "beat", "beats"), Span(b.Last-b.First), 100*float64(b.Heard)/float64(max(b.Counted, 1)), space)
	if b.Jitter.Known() {
		text += fmt.Sprintf("; jitter %.3g%sµs", 1e6*float64(b.Jitter), space)
	}
	return text
}

// source says where the nominal count comes from.
func source(s rate.NominalSource) string {
	switch s {
	case rate.FromFlag:
		return "given by --bph"
	case rate.FromTrain:
		return "from the train"
	case rate.FromCustom:
		return "the nearest customary count"
	}
	return "the measured count itself, so the rate is relative"
}

// Rate says how the movement kept time.
func Rate(s *analysis.Summary) string {
	r := s.Rate
	text := fmt.Sprintf("mean %s (one standard error, %s)", SignedWithError(r.Mean, r.SE, "s/day"), clockShare(r.ClockSE))
	if !r.Spread.Known() {
		return text
	}
	return text + fmt.Sprintf("; first %s, last %s, spread %s", SignedWithError(r.First, r.FirstSE, "s/day"),
		SignedWithError(r.Last, r.LastSE, "s/day"), Plain(r.Spread, "s/day"))
}

// Period gives the mean period of two beats.
func Period(s *analysis.Summary) string {
	relative := s.Rate.SE / 86400
	return WithError(1000*s.Beat.Period, 1000*s.Beat.Period*relative, "ms")
}

// Band says where the rate is steady.
func Band(s *analysis.Summary) string {
	b := s.StableBand
	if b.TooShort {
		return "not known: the run is too short, a band takes three whole windows"
	}
	if !b.Found {
		return fmt.Sprintf("none: no stretch of the run stays within %g s/day", float64(b.Tolerance))
	}
	text := fmt.Sprintf("%s to %s (%s): mean %s, spread %s where %g"+after("s/day")+" is allowed",
		Span(b.Start), Span(b.End), Span(b.End-b.Start), SignedWithError(b.Mean, b.SE, "s/day"),
		Plain(b.Spread, "s/day"), float64(b.Tolerance))
	if t := s.Barrel; t != nil {
		text += fmt.Sprintf("; turns %.3g to %.3g of the %.3g that the %s made", float64(t.BandStart), float64(t.BandEnd), float64(t.Turns), t.Name)
	}
	return text
}

// Amplitude says how far the oscillator swings, or what stands for it.
func Amplitude(s *analysis.Summary) string {
	a := s.Amplitude
	what, unit := "", "°"
	switch rate.AmplitudeKind(a.Kind) {
	case rate.LiftTime:
		what, unit = "lift time (degrees with --lift-angle) ", "ms"
	case rate.Level:
		what, unit = "loudness in its place ", "dBFS"
	}
	return fmt.Sprintf("%smean %s; first %s, last %s", what, WithError(a.Mean, a.SE, unit), Plain(a.First, unit), Plain(a.Last, unit))
}

// Events counts what happened besides beats.
func Events(s *analysis.Summary) string {
	var parts []string
	for _, kind := range beat.Kinds {
		if n := s.Events[kind]; n > 0 {
			parts = append(parts, fmt.Sprintf("%s %s", Grouped(int64(n)), kind))
		}
	}
	if len(parts) == 0 {
		return "none"
	}
	text := strings.Join(parts, ", ")
	if lost := s.Rate.Lost; lost.Known() && lost != 0 {
		text += fmt.Sprintf("; %s%ss lost to them", Unsigned(float64(lost), 4), space)
	}
	return text
}

// Recurrence says what comes round again, how often, and what it may be.
func Recurrence(r *analysis.Recurrence) string {
	text := fmt.Sprintf("every %.6g beats", float64(r.PeriodBeats))
	if r.Match != "" {
		text += " (" + r.Match + ")"
	}
	if r.Kind == "events" {
		text += fmt.Sprintf(": events in %d of %s", r.Occurrences, Count(r.Opportunities, "turn", "turns"))
	} else {
		text += fmt.Sprintf(": uneven over %s", Count(r.Occurrences, "turn", "turns"))
	}
	text += fmt.Sprintf(", %.3g%sms, p%s=%s%.1g", float64(r.Size), space, space, space, float64(r.PValue))
	if r.Note != "" {
		text += "; " + r.Note
	}
	return text
}

// Mark says at which sound of the beat its instant was taken, or "" where it
// is the middle of the lift, as it should be.
func Mark(s *analysis.Summary) string {
	if s.Beat.Mark == analysis.MidLift {
		return ""
	}
	return fmt.Sprintf("the %s sound of each beat, as the lift could not be measured: a change of amplitude may pass for one of rate", s.Beat.Mark)
}

// Name is what a recording is called: its file's name, without the way there,
// which is nobody else's business.
func Name(s *analysis.Summary) string {
	paths := s.Recording.Paths
	if len(paths) == 0 || paths[0] == "-" {
		return "standard input"
	}
	name := wavio.OneLine(filepath.Base(paths[0]))
	if more := len(paths) - 1; more > 0 {
		name += " and " + Count(more, "more part", "more parts")
	}
	return name
}

// Sound says in what form the sound was recorded.
func Sound(s *analysis.Summary) string {
	r := s.Recording
	text := fmt.Sprintf("%g kHz, %d bit", float64(r.SampleRate)/1000, r.BitsPerSample)
	if r.Channels > 1 && r.Channel > 0 {
		text += fmt.Sprintf(", channel %d of %d", r.Channel, r.Channels)
	}
	return text
}

// kinds are what happened in events of a kind.
var kinds = map[beat.Kind]string{
	beat.Late:   "a beat came late and every later one with it: the movement hesitated",
	beat.Early:  "a beat came early and every later one with it",
	beat.Missed: "not heard though the room was quiet; the swing went on",
	beat.Extra:  "a sound between two beats that are both in place",
	beat.Stop:   "no beat until the movement started again, or to the end",
	beat.Masked: "not heard because the room was loud",
	beat.Gap:    "the recorder lost samples or wrote silence",
}

// Kind says in one line what happened in events of a kind.
func Kind(k beat.Kind) string { return cmp.Or(kinds[k], string(k)) }
