// Package prose puts the figures of a run into words, the same ones wherever
// they are shown. The spaces inside a figure, and before its unit, do not break.
package prose

import (
	"fmt"
	"math"
	"strconv"
	"strings"
	"unicode"
	"unicode/utf8"

	"rundown/analysis"
)

// minus is the sign of printed figures, as wide as the plus.
const minus = "−"

// space keeps a figure and its unit on one line.
const space = "\u00a0"

// WithError prints a figure with its standard error and their common unit, to
// two significant digits of the error, or to two decimals where there is none.
func WithError(x, se analysis.Number, unit string) string {
	return withError(x, se, unit, Unsigned)
}

// SignedWithError is WithError with a plus where the figure is positive.
func SignedWithError(x, se analysis.Number, unit string) string {
	return withError(x, se, unit, Signed)
}

func withError(x, se analysis.Number, unit string, format func(float64, int) string) string {
	if !x.Known() {
		return "not known"
	}
	if !se.Known() || se <= 0 {
		return format(float64(x), 2) + after(unit)
	}
	decimals := Decimals(float64(se))
	return format(float64(x), decimals) + space + "±" + space + Unsigned(float64(se), decimals) + after(unit)
}

// Decimals is how many decimals show two digits of a standard error.
func Decimals(se float64) int {
	if !(se > 0) || math.IsInf(se, 0) {
		return 2
	}
	return min(max(1-int(math.Floor(math.Log10(se))), 0), 6)
}

// Plain prints a figure with one decimal and its unit.
func Plain(x analysis.Number, unit string) string {
	if !x.Known() {
		return "not known"
	}
	return Unsigned(float64(x), 1) + after(unit)
}

// Fixed prints a figure with so many decimals and its unit.
func Fixed(x analysis.Number, decimals int, unit string) string {
	if !x.Known() {
		return "not known"
	}
	return Unsigned(float64(x), decimals) + after(unit)
}

// after is a unit as it follows a figure.
func after(unit string) string {
	if unit == "°" {
		return unit
	}
	return space + unit
}

// Unsigned prints x with a sign only where it is negative.
func Unsigned(x float64, decimals int) string {
	text := strconv.FormatFloat(x, 'f', decimals, 64)
	digits, negative := strings.CutPrefix(text, "-")
	if negative && strings.Trim(digits, "0.") != "" {
		return minus + digits
	}
	return digits
}

// Signed prints x with its sign, and a zero without.
func Signed(x float64, decimals int) string {
	text := Unsigned(x, decimals)
	if strings.HasPrefix(text, minus) || strings.Trim(text, "0.") == "" {
		return text
	}
	return "+" + text
}

// Grouped prints a count in groups of three digits.
func Grouped(n int64) string {
	text := strconv.FormatInt(n, 10)
	for i := len(text) - 3; i > 0 && text[i-1] != '-'; i -= 3 {
		text = text[:i] + space + text[i:]
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
	if seconds == 0 {
		return "0" + space + "s"
	}
	if seconds < 59.95 {
		return Plain(seconds, "s")
	}
	if s := int64(math.Round(float64(seconds))); s < 3600 {
		return two(s/60, "min", s%60, "s")
	}
	m := int64(math.Round(float64(seconds) / 60))
	return two(m/60, "h", m%60, "min")
}

func two(a int64, unitA string, b int64, unitB string) string {
	return fmt.Sprintf("%d%s%s%s%02d%s%s", a, space, unitA, space, b, space, unitB)
}

// Count prints a number of things, with the noun's plural where it needs one.
func Count(n int, one, many string) string {
	if n == 1 {
		return "1" + space + one
	}
	return Grouped(int64(n)) + space + many
}

// Columns writes rows in columns, the first and the last set to the left.
func Columns(b *strings.Builder, rows [][]string) {
	width := make([]int, len(rows[0]))
	for _, row := range rows {
		for i, text := range row {
			width[i] = max(width[i], utf8.RuneCountInString(text))
		}
	}
	for _, row := range rows {
		var line strings.Builder
		for i, text := range row {
			pad := strings.Repeat(" ", width[i]-utf8.RuneCountInString(text))
			switch i {
			case 0:
				line.WriteString(text + pad)
			case len(row) - 1:
				line.WriteString("  " + text)
			default:
				line.WriteString("  " + pad + text)
			}
		}
		b.WriteString(strings.TrimRight(line.String(), " ") + "\n")
	}
}

// Printable escapes in a text what a terminal could take for a command: names of
// files may hold anything. Ends of lines and hard spaces stay.
func Printable(text string) string {
	var b strings.Builder
	for len(text) > 0 {
		r, n := utf8.DecodeRuneInString(text)
		part := text[:n]
		if !unicode.IsPrint(r) && r != '\n' && r != '\u00a0' || r == utf8.RuneError && n == 1 {
			part = strings.Trim(strconv.QuoteToASCII(part), `"`)
		}
		b.WriteString(part)
		text = text[n:]
	}
	return b.String()
}

// Terminal makes a text fit for a terminal, where plain spaces are easier to search
// for once the lines are broken.
func Terminal(text string) string { return strings.ReplaceAll(Printable(text), space, " ") }

// Cell is a text for a cell of a table. Where a spreadsheet would take it for a
// formula, an apostrophe before it tells that it is text.
func Cell(text string) string {
	if _, err := strconv.ParseFloat(text, 64); text != "" && strings.Contains("=+-@\t\r", text[:1]) && err != nil {
		return "'" + text
	}
	return text
}
