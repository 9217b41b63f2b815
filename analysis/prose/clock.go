package prose

import (
	"fmt"
	"math"

	"rundown/analysis"
	"rundown/analysis/calibrate"
)

// perPPM is what one part per million is in seconds a day.
const perPPM = 0.0864

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
func Decimal(x float64, decimals int, unit string) string { return unsigned(x, decimals) + after(unit) }

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
