package chart

import (
	"strings"
	"unicode"
	"unicode/utf8"

	"gonum.org/v1/plot/text"
	"gonum.org/v1/plot/vg"
)

// safe makes one line of any text: whatever can't be printed becomes a question
// mark. The result is valid UTF-8.
func safe(s string) string {
	return strings.Map(func(r rune) rune {
		if r == utf8.RuneError || !unicode.IsPrint(r) {
			return '?'
		}
		return r
	}, s)
}

// arborName is the name of an arbor as it stands in titles and along axes.
func arborName(s string) string {
	return cut(safe(s), bold(letters(titleSize, ink, 0, 0)), textWidth*0.4)
}

// cut shortens s to a width by leaving out its middle, since names of
// recordings differ at either end.
func cut(s string, sty text.Style, width vg.Length) string {
	if sty.Width(s) <= width {
		return s
	}
	r := []rune(s)
	short := ""
	for n := range len(r) {
		head := n - n/2
		longer := string(r[:head]) + "…" + string(r[len(r)-n/2:])
		if sty.Width(longer) > width {
			break
		}
		short = longer
	}
	return short
}

// wrap breaks s between words into lines no wider than width. A word that is
// wider stands alone, cut.
func wrap(s string, sty text.Style, width vg.Length) []string {
	var lines []string
	line := ""
	for _, word := range strings.Split(s, " ") { // spaces within a figure don't break
		longer := strings.TrimSpace(line + " " + word)
		if line != "" && sty.Width(longer) > width {
			lines = append(lines, line)
			longer = word
		}
		line = cut(longer, sty, width)
	}
	if line != "" {
		lines = append(lines, line)
	}
	return lines
}
