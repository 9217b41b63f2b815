// Package prose puts the figures of a run into words, the same ones wherever
// they are shown.
package prose

import (
	"fmt"
	"math"
	"strconv"
	"strings"

	"rundown/analysis"
)

// minus is the sign of printed figures, as wide as the plus.
const minus = "−"

// WithError prints a figure with its standard error and their common unit, to
// two significant digits of the error, or to two decimals where there is none.
func WithError(x, se analysis.Number, unit string) string {
	return withError(x, se, unit, unsigned)
}

// SignedWithError is WithError with a plus where the figure is positive.
func SignedWithError(x, se analysis.Number, unit string) string {
	return withError(x, se, unit, signed)
}

func withError(x, se analysis.Number, unit string, format func(float64, int) string) string {
	if !x.Known() {
		return "not known"
	}
	if !se.Known() || se <= 0 {
		return format(float64(x), 2) + " " + unit
	}
	decimals := min(max(1-int(math.Floor(math.Log10(float64(se)))), 0), 6)
	return fmt.Sprintf("%s ± %s %s", format(float64(x), decimals), unsigned(float64(se), decimals), unit)
}

// Signed prints a figure with its sign, one decimal and its unit.
func Signed(x analysis.Number, unit string) string { return known(x, unit, 1, signed) }

// Plain prints a figure with one decimal and its unit.
func Plain(x analysis.Number, unit string) string { return known(x, unit, 1, unsigned) }

func known(x analysis.Number, unit string, decimals int, format func(float64, int) string) string {
	if !x.Known() {
		return "not known"
	}
	return format(float64(x), decimals) + " " + unit
}

// unsigned prints x with a sign only where it is negative.
func unsigned(x float64, decimals int) string {
	text := strconv.FormatFloat(x, 'f', decimals, 64)
	digits, negative := strings.CutPrefix(text, "-")
	if negative && strings.Trim(digits, "0.") != "" {
		return minus + digits
	}
	return digits
}

// signed prints x with its sign, and a zero without.
func signed(x float64, decimals int) string {
	text := unsigned(x, decimals)
	if strings.HasPrefix(text, minus) || strings.Trim(text, "0.") == "" {
		return text
	}
	return "+" + text
}

// Grouped prints a count in groups of three digits.
func Grouped(n int64) string {
	text := strconv.FormatInt(n, 10)
	for i := len(text) - 3; i > 0 && text[i-1] != '-'; i -= 3 {
		text = text[:i] + " " + text[i:]
	}
	return text
}

// PerHour prints beats per hour, with decimals only where there are any.
func PerHour(x analysis.Number) string {
	whole, part := math.Modf(math.Round(float64(x)*100) / 100)
	if math.Abs(part) < 0.005 {
		return Grouped(int64(whole))
	}
	return Grouped(int64(whole)) + strings.TrimPrefix(strconv.FormatFloat(part, 'f', 2, 64), "0")
}

// Span prints a length of time, given in seconds, in the two units that suit
// it.
func Span(seconds analysis.Number) string {
	if seconds < 59.95 {
		return fmt.Sprintf("%.1f s", float64(seconds))
	}
	if s := int64(math.Round(float64(seconds))); s < 3600 {
		return fmt.Sprintf("%d min %02d s", s/60, s%60)
	}
	m := int64(math.Round(float64(seconds) / 60))
	return fmt.Sprintf("%d h %02d min", m/60, m%60)
}

// Count prints a number of things, with the noun's plural where it needs one.
func Count(n int, one, many string) string {
	if n == 1 {
		return "1 " + one
	}
	return Grouped(int64(n)) + " " + many
}
