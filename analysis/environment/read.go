package environment

import (
	"bytes"
	"encoding/binary"
	"encoding/csv"
	"errors"
	"fmt"
	"io"
	"os"
	"slices"
	"strings"
	"time"
	"unicode/utf16"
	"unicode/utf8"

	"rundown/dsp/wavio"
)

// Format is what is known of a table beforehand. Whatever is empty is recognised.
type Format struct {
	Separator string // of the columns: one character, or "tab"
	Decimal   string // mark of decimals: "point" or "comma"
	Times     string // how times are written: one of TimeFormats
}

// Log is what a logger wrote.
type Log struct {
	Columns []Column
	Elapsed bool        // Times count from the first sample of the run
	Zoned   bool        // Times say their zone; else they are readings of a clock on the wall, given as if of UTC
	Times   []time.Time // ascending; elapsed ones count from 1970
}

// Column is one figure of a log.
type Column struct {
	Name, Unit string
	Values     []float64 // at Log.Times; NaN where there is none
}

// largest is the size of a log in bytes past which it is none.
const largest = 64 << 20

// Load reads the log at path. Errors are one line, name the file, and the line
// where there is one, and say what to do.
func Load(path string, f Format) (*Log, error) {
	file, err := os.Open(path)
	if err != nil {
		return nil, err
	}
	defer file.Close()
	data, err := io.ReadAll(io.LimitReader(file, largest+1))
	if err != nil {
		return nil, err
	}
	return Parse(path, data, f)
}

// Parse reads the content of a log; name is the file's, for errors.
func Parse(name string, data []byte, f Format) (*Log, error) {
	log, err := parse(data, f)
	if err != nil {
		return nil, fmt.Errorf("%s: %w", wavio.OneLine(name), err)
	}
	return log, nil
}

func parse(data []byte, f Format) (*Log, error) {
	if len(data) > largest {
		return nil, fmt.Errorf("larger than %d MiB: this is no log", largest>>20)
	}
	if err := f.check(); err != nil {
		return nil, err
	}
	t, err := split(decoded(data), f)
	if err != nil {
		return nil, err
	}
	log := &Log{}
	used, err := log.times(t, f)
	if err != nil {
		return nil, err
	}
	if err := log.figures(t, f, used); err != nil {
		return nil, err
	}
	return log, log.order(t)
}

func (f Format) check() error {
	switch {
	case f.Separator != "" && f.Separator != "tab" && (utf8.RuneCountInString(f.Separator) != 1 || strings.ContainsAny(f.Separator, "\"\r\n\uFFFD")):
		return fmt.Errorf("separator %q: give one character, or tab", f.Separator)
	case f.Decimal != "" && f.Decimal != "point" && f.Decimal != "comma":
		return fmt.Errorf("decimals %q: give point or comma", f.Decimal)
	case f.Times != "" && !slices.Contains(TimeFormats, f.Times):
		return fmt.Errorf("times %q: give one of %s", f.Times, strings.Join(TimeFormats, ", "))
	}
	return nil
}

// decoded is a text in UTF-8, as which loggers' UTF-16 and Latin-1 are read too.
func decoded(data []byte) string {
	switch {
	case bytes.HasPrefix(data, []byte("\xef\xbb\xbf")):
		data = data[3:]
	case bytes.HasPrefix(data, []byte("\xff\xfe")), bytes.HasPrefix(data, []byte("\xfe\xff")):
		order := binary.ByteOrder(binary.BigEndian)
		if data[0] == 0xff {
			order = binary.LittleEndian
		}
		units := make([]uint16, len(data)/2-1)
		for i := range units {
			units[i] = order.Uint16(data[2*i+2:])
		}
		return string(utf16.Decode(units))
	}
	if utf8.Valid(data) {
		return string(data)
	}
	runes := make([]rune, len(data))
	for i, b := range data {
		runes[i] = rune(b)
	}
	return string(runes)
}

// table is a log cut into fields.
type table struct {
	names []string // of the columns, empty where there is no header
	rows  [][]string
	lines []int // of the rows, from 1
	comma bool  // decimals are set off by one
}

// split cuts a text into the rows of its table. What stands above the header, as
// loggers write of themselves, is passed over.
func split(text string, f Format) (*table, error) {
	for _, separator := range []rune{';', '\t', ',', '|'} {
		if given := []rune(f.Separator); len(given) == 1 {
			separator = given[0]
		} else if f.Separator == "tab" {
			separator = '\t'
		}
		t, err := cut(text, separator, f)
		if err != nil || t != nil {
			return t, err
		}
		if f.Separator != "" {
			return nil, fmt.Errorf("there is no table with the separator %q; say which one it has", f.Separator)
		}
	}
	return nil, errors.New("there is no table of times and figures in it: give the file that the logger wrote, its columns set apart by ; , | or tab, or name their separator")
}

// cut reads a text with a separator, and returns nil where that makes no table.
func cut(text string, separator rune, f Format) (*table, error) {
	r := csv.NewReader(strings.NewReader(text))
	r.Comma, r.FieldsPerRecord, r.LazyQuotes, r.TrimLeadingSpace = separator, -1, true, separator != '\t'
	if separator == '"' || separator == '\r' || separator == '\n' {
		return nil, nil
	}
	t := &table{}
	var above []string
	for {
		row, err := r.Read()
		if err == io.EOF {
			break
		}
		if err != nil {
			return nil, nil
		}
		line, _ := r.FieldPos(0)
		switch {
		case isData(row, f):
			t.rows, t.lines = append(t.rows, row), append(t.lines, line)
		case len(t.rows) == 0:
			above = row
		case strings.TrimSpace(strings.Join(row, "")) != "" && len(row) > 1:
			t.rows, t.lines = append(t.rows, row), append(t.lines, line)
		}
	}
	if len(t.rows) < 2 {
		return nil, nil
	}
	return t, t.header(above, f)
}

// header takes the row above the figures for their names.
func (t *table) header(above []string, f Format) error {
	widest := 0
	for _, row := range t.rows {
		widest = max(widest, len(row))
	}
	if len(above) > 1 {
		for len(above) > 0 && above[len(above)-1] == "" {
			above = above[:len(above)-1]
		}
		for i, row := range t.rows {
			for len(row) > len(above) && strings.TrimSpace(row[len(row)-1]) == "" {
				row = row[:len(row)-1]
			}
			if len(row) > len(above) {
				return fmt.Errorf("line %d has %d fields where the header has %d: if the decimals are set off by the separator, export it with another; else name the separator",
					t.lines[i], len(row), len(above))
			}
		}
		t.names = above
	}
	for len(t.names) < widest {
		t.names = append(t.names, "")
	}
	for i := range t.rows {
		for len(t.rows[i]) < len(t.names) {
			t.rows[i] = append(t.rows[i], "")
		}
	}
	t.comma = f.Decimal == "comma" || f.Decimal == "" && t.usesCommas()
	return nil
}
