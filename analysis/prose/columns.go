package prose

import (
	"strings"
	"unicode/utf8"
)

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
