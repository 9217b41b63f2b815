package environment

import (
	"errors"
	"fmt"
	"math"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"time"
)

// TimeFormats are the ways in which times may be written: dates by the order of
// year, month and day, seconds since 1970, and time since the first sample in
// seconds, minutes, hours, or hours:minutes:seconds.
var TimeFormats = []string{"ymd", "dmy", "mdy", "unix", "s", "min", "h", "elapsed"}

var (
	datePart  = `(\d{1,4})[-/.](\d{1,2})[-/.](\d{1,4})`
	clockPart = `(\d{1,4})[:.hH](\d{2})(?:[:.mM](\d{2}(?:[.,]\d{1,9})?))?s?\s*([AaPp])?\.?(?:[Mm]\.?)?`
	zonePart  = `\s*(Z|UTC|GMT|[-+]\d{2}:?\d{2})?`
	moment    = regexp.MustCompile(`^` + datePart + `(?:[T ,]+` + clockPart + zonePart + `)?$`)
	clockOnly = regexp.MustCompile(`^` + clockPart + `$`)
)

func looksLikeTime(text string) bool {
	text = strings.TrimSpace(text)
	return moment.MatchString(text) || strings.Contains(text, ":") && clockOnly.MatchString(text)
}

// times reads the times of a log, and returns the columns that hold them.
func (l *Log) times(t *table, f Format) ([]int, error) {
	for _, columns := range t.timeColumns(f) {
		texts := make([]string, len(t.rows))
		for i, row := range t.rows {
			for _, c := range columns {
				texts[i] = strings.TrimSpace(texts[i] + " " + strings.TrimSpace(row[c]))
			}
		}
		ok, err := l.readTimes(t, texts, t.names[columns[0]], f)
		if err != nil {
			return nil, err
		}
		if ok {
			return columns, nil
		}
	}
	return nil, fmt.Errorf("line %d: no column holds times that are understood: say how they are written, as one of %s", t.lines[0], strings.Join(TimeFormats, ", "))
}

// timeColumns are the columns that may hold times, likeliest first: a date with a
// time of day beside it, one with both, one whose name says so, the first.
func (t *table) timeColumns(f Format) [][]int {
	var both, dated, called [][]int
	first := t.rows[0]
	for c, text := range first {
		m := moment.FindStringSubmatch(strings.TrimSpace(text))
		if m != nil && m[4] != "" {
			dated = append(dated, []int{c})
		}
		if m == nil || m[4] != "" {
			if isTimeName(t.names[c]) {
				called = append(called, []int{c})
			}
			continue
		}
		for o, other := range first {
			if o != c && strings.Contains(other, ":") && clockOnly.MatchString(strings.TrimSpace(other)) {
				both = append(both, []int{c, o})
			}
		}
		dated = append(dated, []int{c})
	}
	if slices.Contains([]string{"unix", "s", "min", "h", "elapsed"}, f.Times) {
		return append(called, []int{0})
	}
	return append(slices.Concat(both, dated, called), []int{0})
}

var timeName = regexp.MustCompile(`(?i)time|date|zeit|datum|heure|hora|fecha|tijd|elapsed|seconds|minutes|hours|unix|epoch|^t\b|^s$|^h$|^min$`)

func isTimeName(name string) bool { return timeName.MatchString(name) }

// readTimes reads texts as times, and reports whether they are.
func (l *Log) readTimes(t *table, texts []string, name string, f Format) (bool, error) {
	_, number := numberOf(texts[0], true)
	switch {
	case number:
		return l.readNumbers(t, texts, name, f)
	case clockOnly.MatchString(texts[0]):
		return l.readClock(t, texts, name, f)
	case !moment.MatchString(texts[0]):
		return false, nil
	}
	order, err := dateOrder(texts, f.Times)
	if err != nil {
		return false, err
	}
	for i, text := range texts {
		at, zoned, ok := readMoment(text, order)
		if !ok {
			return false, fmt.Errorf("line %d: %.30q is no time as those above it; remove the line", t.lines[i], text)
		}
		if i == 0 {
			l.Zoned = zoned
		}
		if zoned != l.Zoned {
			return false, fmt.Errorf("line %d: some times have a zone and some have none", t.lines[i])
		}
		l.Times = append(l.Times, at)
	}
	return true, nil
}

// elapsedUnit is the unit of elapsed times by what the header calls them.
var elapsedUnit = []struct {
	name    *regexp.Regexp
	format  string
	seconds float64
}{
	{regexp.MustCompile(`(?i)[(\[_ ](s|sec|secs|seconds)[)\]]?$|^s$|seconds`), "s", 1},
	{regexp.MustCompile(`(?i)[(\[_ ](min|mins|minutes)[)\]]?$|^min$|minutes`), "min", 60},
	{regexp.MustCompile(`(?i)[(\[_ ](h|hr|hrs|hours)[)\]]?$|^h$|hours`), "h", 3600},
}

// readNumbers reads times that are plain numbers: seconds since 1970 where they
// are so many, else elapsed ones.
func (l *Log) readNumbers(t *table, texts []string, name string, f Format) (bool, error) {
	const since2001, milliseconds = 1e9, 1e12
	first, _ := numberOf(texts[0], true)
	scale, unix := 0.0, f.Times == "unix" || f.Times == "" && first > since2001
	for _, u := range elapsedUnit {
		if f.Times == u.format || f.Times == "" && u.name.MatchString(strings.TrimSpace(name)) {
			scale = u.seconds
		}
	}
	switch {
	case unix && first > milliseconds:
		scale = 1e-3
	case unix:
		scale = 1
	case scale == 0:
		return false, fmt.Errorf("line %d: whether %.30q counts seconds, minutes or hours is not said: give s, min or h, or unix for seconds since 1970", t.lines[0], texts[0])
	}
	l.Elapsed, l.Zoned = !unix, unix
	for i, text := range texts {
		x, ok := numberOf(text, true)
		if !ok || !(math.Abs(x*scale) < 1e10) {
			return false, fmt.Errorf("line %d: %.30q is no time as those above it; remove the line", t.lines[i], text)
		}
		whole := math.Floor(x * scale)
		l.Times = append(l.Times, time.Unix(int64(whole), int64((x*scale-whole)*1e9)).UTC())
	}
	return true, nil
}

// readClock reads times of hours, minutes and seconds, which are elapsed ones.
func (l *Log) readClock(t *table, texts []string, name string, f Format) (bool, error) {
	if f.Times != "elapsed" && !strings.Contains(strings.ToLower(name), "elapsed") {
		return false, errors.New("its times are of a day without a date: export them with the date, or say elapsed where they count from the first sample")
	}
	l.Elapsed = true
	for i, text := range texts {
		seconds, ok := clockSeconds(clockOnly.FindStringSubmatch(text))
		if !ok {
			return false, fmt.Errorf("line %d: %.30q is no time as those above it; remove the line", t.lines[i], text)
		}
		l.Times = append(l.Times, first.Add(time.Duration(seconds*1e9)))
	}
	return true, nil
}

// clockSeconds is the time in the four parts after the first of a match.
func clockSeconds(m []string) (float64, bool) {
	if m == nil {
		return 0, false
	}
	h, _ := strconv.Atoi(m[1])
	minutes, _ := strconv.Atoi(m[2])
	seconds := 0.0
	if m[3] != "" {
		seconds, _ = strconv.ParseFloat(strings.Replace(m[3], ",", ".", 1), 64)
	}
	if half := strings.ToLower(m[4]); half != "" {
		if h < 1 || h > 12 {
			return 0, false
		}
		h %= 12
		if half == "p" {
			h += 12
		}
	}
	return float64(h)*3600 + float64(minutes)*60 + seconds, minutes < 60 && seconds < 61
}

// readMoment reads a date, with a time of day or at midnight.
func readMoment(text, order string) (at time.Time, zoned, ok bool) {
	m := moment.FindStringSubmatch(text)
	if m == nil {
		return at, false, false
	}
	var date [3]int
	for i := range date {
		date[i], _ = strconv.Atoi(m[i+1])
	}
	year, month, day := date[strings.IndexByte(order, 'y')], date[strings.IndexByte(order, 'm')], date[strings.IndexByte(order, 'd')]
	if year < 100 {
		year += 2000
	}
	if month < 1 || month > 12 || day < 1 || day > 31 {
		return at, false, false
	}
	at = time.Date(year, time.Month(month), day, 0, 0, 0, 0, time.UTC)
	if at.Day() != day {
		return at, false, false
	}
	if m[4] == "" {
		return at, false, true
	}
	seconds, ok := clockSeconds(m[3:8])
	if !ok || seconds >= 86401 {
		return at, false, false
	}
	at = at.Add(time.Duration(seconds * 1e9))
	if zone := strings.Replace(m[8], ":", "", 1); strings.HasPrefix(zone, "+") || strings.HasPrefix(zone, "-") {
		offset, _ := strconv.Atoi(zone[1:])
		east := offset/100*3600 + offset%100*60
		if zone[0] == '-' {
			east = -east
		}
		return at.Add(-time.Duration(east) * time.Second).In(time.FixedZone("", east)), true, true
	}
	return at, m[8] != "", true
}

// dateOrder is the order of year, month and day. A year is known by its four
// digits, and full stops set off days first; else what none of the dates
// contradicts, in ascending order.
func dateOrder(texts []string, given string) (string, error) {
	if given == "ymd" || given == "dmy" || given == "mdy" {
		return given, nil
	}
	if m := moment.FindStringSubmatch(texts[0]); len(m[1]) > 2 {
		return "ymd", nil
	} else if strings.HasPrefix(texts[0][len(m[1]):], ".") {
		return "dmy", nil
	}
	var fit []string
	for _, order := range []string{"dmy", "mdy"} {
		ordered := true
		last := time.Time{}
		for _, text := range texts {
			at, _, ok := readMoment(text, order)
			ordered = ordered && ok && !at.Before(last)
			last = at
		}
		if ordered {
			fit = append(fit, order)
		}
	}
	switch {
	case len(fit) == 1:
		return fit[0], nil
	case len(fit) == 2 && sameDay(texts):
		return fit[0], nil
	}
	return "", fmt.Errorf("whether the day or the month comes first in %.30q cannot be told: say dmy or mdy", texts[0])
}

// sameDay reports whether the day and the month of all dates are one number, so
// that their order does not matter.
func sameDay(texts []string) bool {
	for _, text := range texts {
		if m := moment.FindStringSubmatch(text); m == nil || strings.TrimLeft(m[1], "0") != strings.TrimLeft(m[2], "0") {
			return false
		}
	}
	return true
}
