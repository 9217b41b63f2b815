package prose

import (
	"strconv"
	"strings"
	"unicode"
	"unicode/utf8"
)

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

// Cell is a text for a cell of a table. Where a spreadsheet would take it for a
// formula, an apostrophe before it tells that it is text.
func Cell(text string) string {
	if _, err := strconv.ParseFloat(text, 64); text != "" && strings.Contains("=+-@\t\r", text[:1]) && err != nil {
		return "'" + text
	}
	return text
}
