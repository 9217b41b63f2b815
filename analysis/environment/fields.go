package environment

import (
	"errors"
	"fmt"
	"math"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"unicode"
)

// isData reports whether a row holds a time, or a number, and a number besides.
func isData(row []string, f Format) bool {
	times, figures := 0, 0
	for _, text := range row {
		text = strings.TrimSpace(text)
		_, number := numberOf(text, f.Decimal != "point")
		switch {
		case number:
			figures++
		case looksLikeTime(text):
			times++
		}
	}
	return figures > 0 && times+figures > 1
}

// numeral is a number as loggers write it, perhaps with its unit.
var numeral = regexp.MustCompile(`^([-+−]?\d{1,15}(?:[.,]\d{1,12})?(?:[eE][-+]?\d{1,2})?)\s*(?:°?[CFK]|%|hPa|mbar|%RH)?$`)

// numberOf reads a number; comma says that its decimals may be set off by one.
func numberOf(text string, comma bool) (float64, bool) {
	m := numeral.FindStringSubmatch(strings.TrimSpace(text))
	if m == nil {
		return math.NaN(), false
	}
	text = strings.Replace(m[1], "−", "-", 1)
	if strings.Contains(text, ",") {
		if !comma {
			return math.NaN(), false
		}
		text = strings.Replace(text, ",", ".", 1)
	}
	x, err := strconv.ParseFloat(text, 64)
	return x, err == nil && !math.IsInf(x, 0)
}

// usesCommas reports whether some number of the table has a decimal comma and none
// a point.
func (t *table) usesCommas() bool {
	commas := false
	for _, row := range t.rows {
		for _, text := range row {
			if _, ok := numberOf(text, true); !ok || looksLikeTime(text) {
				continue
			}
			if strings.Contains(text, ".") {
				return false
			}
			commas = commas || strings.Contains(text, ",")
		}
	}
	return commas
}

// figures reads the columns that hold figures, those used for times left out.
func (l *Log) figures(t *table, f Format, used []int) error {
	for c := range t.names {
		if slices.Contains(used, c) {
			continue
		}
		column := Column{}
		column.Name, column.Unit = named(t.names[c])
		known, counting := 0, counter.MatchString(column.Name)
		for i, row := range t.rows {
			x, ok := numberOf(row[c], t.comma)
			if ok {
				known++
			}
			counting = counting && ok && (i == 0 || x == column.Values[i-1]+1)
			column.Values = append(column.Values, x)
		}
		// A column that merely counts the rows is no figure.
		if counting || 2*known < len(t.rows) {
			continue
		}
		if column.Name == "" {
			column.Name = fmt.Sprintf("column %d", c+1)
		}
		l.Columns = append(l.Columns, column)
	}
	if len(l.Columns) == 0 {
		return errors.New("no column holds figures: say how decimals are set off, with a point or a comma")
	}
	if len(l.Columns) > mostColumns {
		return fmt.Errorf("%d columns of figures are more than %d: leave in the file those that may matter", len(l.Columns), mostColumns)
	}
	return nil
}

// counter is the name of a column that may merely count the rows.
var counter = regexp.MustCompile(`^(#|no\.?|nr\.?|index|id|row|sample|record.*|)$`)

// mostColumns is how many causes can be told apart at a time with any sense.
const mostColumns = 12

var (
	inBrackets = regexp.MustCompile(`^(.*?)\s*[(\[]\s*([^)\]]{1,12})\s*[)\]]\s*$`)
	trailing   = regexp.MustCompile(`^(.*?)[ _,]+(°?[CFK]|%|hPa|mbar|kPa|Pa|%RH|RH|deg[CF])$`)
)

// named takes the unit out of the name of a column.
func named(text string) (name, unit string) {
	text = printable(text)
	name = text
	for _, form := range []*regexp.Regexp{inBrackets, trailing} {
		if m := form.FindStringSubmatch(text); m != nil && m[1] != "" {
			name, unit = m[1], m[2]
			break
		}
	}
	switch unit {
	case "C", "degC", "°C":
		unit = "°C"
	case "F", "degF", "°F":
		unit = "°F"
	case "RH", "%RH":
		unit = "%"
	}
	return strings.ToLower(strings.ReplaceAll(strings.TrimSpace(name), "_", " ")), unit
}

// printable is a text of one line and no great length.
func printable(text string) string {
	text = strings.Map(func(r rune) rune {
		if !unicode.IsPrint(r) {
			return -1
		}
		return r
	}, strings.TrimSpace(text))
	if r := []rune(text); len(r) > 40 {
		return string(r[:39]) + "…"
	}
	return text
}
