package prose

import (
	"fmt"
	"strings"

	"rundown/analysis"
	"rundown/analysis/beat"
	"rundown/analysis/rate"
)

// Beat says how fast the movement beats and how much of it was heard.
func Beat(s *analysis.Summary) string {
	b := s.Beat
	text := fmt.Sprintf("measured %s an hour against %s (%s); %s counted, %.4g %% heard",
		PerHour(b.Measured), PerHour(b.Nominal), source(b.Source),
		Grouped(b.Counted), 100*float64(b.Heard)/float64(max(b.Counted, 1)))
	if b.Jitter.Known() {
		text += fmt.Sprintf("; jitter %.3g µs", 1e6*float64(b.Jitter))
	}
	return text
}

// source says where the nominal count comes from.
func source(s analysis.NominalSource) string {
	switch s {
	case analysis.FromFlag:
		return "given by --bph"
	case analysis.FromTrain:
		return "from the train"
	case analysis.FromCustom:
		return "the nearest customary count"
	}
	return "the measured count itself, so the rate is relative"
}

// Rate says how the movement kept time.
func Rate(s *analysis.Summary) string {
	r := s.Rate
	return fmt.Sprintf("mean %s; first %s, last %s, spread %s",
		SignedWithError(r.Mean, r.SE, "s/day"), Signed(r.First, "s/day"), Signed(r.Last, "s/day"), Plain(r.Spread, "s/day"))
}

// Band says where the rate is steady.
func Band(s *analysis.Summary) string {
	b := s.StableBand
	if !b.Found {
		return fmt.Sprintf("none: no stretch of the run stays within %g s/day", float64(b.Tolerance))
	}
	text := fmt.Sprintf("%s to %s (%s): mean %s, spread %s of the %g s/day allowed",
		Span(b.Start), Span(b.End), Span(b.End-b.Start), SignedWithError(b.Mean, b.SE, "s/day"),
		Plain(b.Spread, "s/day"), float64(b.Tolerance))
	if t := s.Barrel; t != nil {
		text += fmt.Sprintf("; turns %.2f to %.2f of the %.2f that the %s made", float64(t.BandStart), float64(t.BandEnd), float64(t.Turns), t.Name)
	}
	return text
}

// Amplitude says how far the oscillator swings, or what stands for it.
func Amplitude(s *analysis.Summary) string {
	a := s.Amplitude
	unit, hint := "°", ""
	switch rate.AmplitudeKind(a.Kind) {
	case rate.LiftTime:
		unit, hint = "ms of lift time", " (give --lift-angle for degrees)"
	case rate.Level:
		unit, hint = "dBFS of loudness", ", since the lift could not be measured"
	}
	return fmt.Sprintf("mean %s; first %s, last %s%s", WithError(a.Mean, a.SE, unit), Plain(a.First, unit), Plain(a.Last, unit), hint)
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
		text += fmt.Sprintf("; %.3g s lost to them", float64(lost))
	}
	return strings.Replace(text, "-", minus, 1)
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
	text += fmt.Sprintf(", %.3g ms, p = %.1g", float64(r.Size), float64(r.PValue))
	if r.Note != "" {
		text += "; " + r.Note
	}
	return text
}

// Clock says what the recorder's clock may cost.
func Clock(s *analysis.Summary) string {
	ppm := float64(s.Recording.ClockPPM)
	if s.Recording.ClockVerified {
		return fmt.Sprintf("corrected by %s ppm", signed(ppm, 2))
	}
	return "unverified. Recorders are commonly some tens of ppm out: each 10 ppm moves the rate by 0.86 s/day. " +
		"Give --clock-ppm once it is known"
}

// Mark says at which sound of the beat its instant was taken, or "" where it
// is the middle of the lift, as it should be.
func Mark(s *analysis.Summary) string {
	if s.Beat.Mark == analysis.MidLift {
		return ""
	}
	return fmt.Sprintf("the %s sound of each beat, as the lift could not be measured: a change of amplitude may pass for one of rate", s.Beat.Mark)
}
