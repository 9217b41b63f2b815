package prose

import (
	"fmt"
	"math"

	"rundown/analysis"
	"rundown/analysis/calibrate"
)

// perPPM is what one part per million is in seconds a day.
const perPPM = 0.0864

// Clock says how the recorder's clock was corrected, and what it may cost.
func Clock(s *analysis.Summary) string {
	r := &s.Recording
	corrected := "corrected by " + SignedWithError(r.ClockPPM, r.ClockSE, "ppm")
	cost := ""
	if known(r.ClockSE) {
		cost = ", which leaves " + share(perPPM*float64(r.ClockSE)) + " on every rate"
	}
	switch {
	case r.ClockSource == analysis.ClockReference:
		return followed(s)
	case r.ClockSource == analysis.ClockReadings && !r.ClockVerified:
		return corrected + " from the times noted by hand" + cost + ": over so short a time no better than a clock that nobody checked. " +
			"Use rundown calibrate"
	case r.ClockSource == analysis.ClockReadings:
		return corrected + " from the times noted by hand, each good to half a second" + cost
	case r.ClockVerified:
		return corrected + cost
	}
	return "unverified. Recorders are commonly some tens of ppm out: each 10" + after("ppm") + " moves the rate by 0.86" + after("s/day") + ". " +
		"Give --clock-ppm once it is known"
}

// followed says how the clock was followed by a reference.
func followed(s *analysis.Summary) string {
	r := &s.Recording
	text := fmt.Sprintf("followed beat by beat: %s fast in the mean", SignedWithError(r.ClockPPM, r.ClockSE, "ppm"))
	if ref := r.Reference; ref != nil {
		text += fmt.Sprintf(", %s at first, %s at last, by the reference of %g"+after("Hz")+" on channel %d",
			Signed(float64(ref.First), 2), Signed(float64(ref.Last), 2), float64(ref.Hz), ref.Channel)
		if len(ref.Lost) > 0 {
			text += ", bridged where that was lost"
		}
	}
	return text
}

// RateErrors says what the error bars of rates leave out, one sentence.
func RateErrors(s *analysis.Summary) string {
	if se := s.Rate.ClockSE; known(se) {
		return "Errors shown leave out the recorder's clock, which may shift the whole curve by " + share(float64(se)) + " (one standard error)."
	}
	return "Errors shown leave out the recorder's clock, whose error is not known: it may shift the whole curve by several s/day."
}

// clockShare says what the clock adds to the error of the mean rate.
func clockShare(se analysis.Number) string {
	if !known(se) {
		return "the clock left out"
	}
	return "the clock adds " + share(float64(se))
}

// known reports whether a standard error is.
func known(se analysis.Number) bool { return se.Known() && se > 0 }

// share prints what a clock adds to the error of a rate, s/day.
func share(se float64) string {
	if se < 0.001 {
		return "less than 0.001" + after("s/day")
	}
	return "±" + space + twoDigits(se) + after("s/day")
}

// twoDigits prints a standard error.
func twoDigits(se float64) string {
	return Unsigned(se, Decimals(se))
}

// Day says how far the movement would wander by chance in a day.
func Day(s *analysis.Stability) string {
	driven := "driven within its band"
	if s.Within == "run" {
		driven = "driven as in this run"
	}
	if !s.Wander.Known() {
		return "the run is too short to say how far the movement would wander over a day"
	}
	if s.AtFloor {
		return fmt.Sprintf("over a day, this movement %s would wander by less than can be told from the scatter of the beats, some %s"+after("s"),
			driven, twoDigits(float64(s.Wander)))
	}
	return fmt.Sprintf("over a day, this movement %s would wander by %s"+after("s")+" (95"+after("%%")+" interval %s to %s): chance alone, "+
		"carried on from averages over %s, a steady drift taken out", driven, twoDigits(float64(s.Wander)),
		twoDigits(float64(s.WanderLow)), twoDigits(float64(s.WanderHigh)), Span(s.From))
}

// LostReference says that a reference was lost for a while, one sentence.
func LostReference(channel int, lost []analysis.Period) string {
	total := 0.0
	for _, l := range lost {
		total += float64(l.End - l.Start)
	}
	text := fmt.Sprintf("The reference on channel %d was lost %s, for %s in all; the clock was carried across", channel,
		times(len(lost)), Span(analysis.Number(total)))
	if len(lost) == 1 {
		text = fmt.Sprintf("The reference on channel %d was lost from %s to %s; the clock was carried across", channel,
			Span(lost[0].Start), Span(lost[0].End))
	}
	return text + ", which widens its error there."
}

// Reference says what reference was heard, and how much of it.
func Reference(s *calibrate.Series) string {
	what, of := "tick or pulse", "ticks"
	if s.Tone {
		what, of = "tone", "seconds"
	}
	return fmt.Sprintf("%s of %g%sHz, %s of %s %s heard", what, s.Hz, space, Grouped(s.Heard), Grouped(s.Expected), of)
}

// ClockError says by how much the recorder's clock is out, and what that does.
func ClockError(e *calibrate.Error) string {
	text := SignedWithError(analysis.Number(e.PPM.X), analysis.Number(e.PPM.SE), "ppm") + " (one standard error): "
	perDay := perPPM * e.PPM.X
	way, seems := "fast", "lose"
	if e.PPM.X < 0 {
		way, seems = "slow", "gain"
	}
	return text + fmt.Sprintf("it runs %s, and a perfect movement seems to %s %s", way, seems,
		Decimal(math.Abs(perDay), 2, "s/day"))
}

// Decimal prints a figure with a number of decimals and its unit.
func Decimal(x float64, decimals int, unit string) string { return Unsigned(x, decimals) + after(unit) }

// ReferenceScatter says how regular the reference was.
func ReferenceScatter(e *calibrate.Error) string {
	text := fmt.Sprintf("%.3g%sµs from mark to mark", 1e6*e.Scatter, space)
	if e.Correlation > 1 {
		text += fmt.Sprintf(", alike over several of them, for which the errors are widened %.2g times", e.Correlation)
	}
	return text
}

// ReferenceTime says for how long a reference has to be recorded.
func ReferenceTime(e *calibrate.Error) string {
	return fmt.Sprintf("%s of it give the clock to 1%sppm, %s to 0.1%sppm (two standard errors)",
		Span(analysis.Number(e.Time(1))), space, Span(analysis.Number(e.Time(0.1))), space)
}

// LostSpan says where a reference could not be heard.
func LostSpan(l calibrate.Span) string {
	return fmt.Sprintf("from %s to %s", Span(analysis.Number(l.Start)), Span(analysis.Number(l.End)))
}
