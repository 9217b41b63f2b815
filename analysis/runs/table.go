package runs

import (
	"encoding/csv"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"math"
	"os"
	"path/filepath"
	"slices"
	"strconv"

	"rundown/dsp/wavio"
)

// table reads one of the tables of a results folder, row by row. Columns are
// found by their names, so that a table may have gained some. Errors stick, and
// name the file, the line and what to do.
type table struct {
	path   string
	file   *os.File
	csv    *csv.Reader
	column []int // where each column asked for is
	row    []string
	rows   int // read so far
	err    error
}

func openTable(dir, name string, columns ...string) (*table, error) {
	t := &table{path: filepath.Join(dir, name)}
	file, err := open(t.path)
	if err != nil {
		return nil, err
	}
	t.file = file
	t.csv = csv.NewReader(&shortLines{r: file})
	t.csv.ReuseRecord = true
	header, err := t.csv.Read()
	if err != nil {
		file.Close()
		return nil, t.broken(err)
	}
	for _, c := range columns {
		at := slices.Index(header, c)
		if at < 0 {
			file.Close()
			return nil, t.broken(fmt.Errorf("there is no column %q", c))
		}
		t.column = append(t.column, at)
	}
	return t, nil
}

// open opens a file of a results folder. Pipes and devices, which may keep a
// reader waiting for ever, are refused.
func open(path string) (*os.File, error) {
	info, err := os.Stat(path)
	if err == nil && !info.Mode().IsRegular() {
		return nil, damaged(path, errors.New("it is no file"))
	}
	file, err := os.Open(path)
	if err != nil {
		return nil, explain(path, err)
	}
	return file, nil
}

func (t *table) close() { t.file.Close() }

// next reads one of at most so many rows, and reports false at the end and after
// an error.
func (t *table) next(most int) bool {
	if t.err != nil {
		return false
	}
	row, err := t.csv.Read()
	if err == io.EOF {
		return false
	}
	if t.rows++; err == nil && t.rows > most {
		err = fmt.Errorf("more than %d rows are too many to compare", most)
	}
	if err != nil {
		t.err = t.broken(err)
		return false
	}
	t.row = row
	return true
}

// broken is the error for a table that can't be what an analysis wrote.
func (t *table) broken(err error) error {
	line := 1
	if t.row != nil {
		line, _ = t.csv.FieldPos(0)
	}
	var parse *csv.ParseError
	switch {
	case errors.As(err, &parse):
		line, err = parse.Line, parse.Err
	case err == io.EOF:
		err = errors.New("it is empty")
	}
	return damaged(t.path, fmt.Errorf("line %d: %w", line, err))
}

func (t *table) fail(format string, args ...any) {
	if t.err == nil {
		t.err = t.broken(fmt.Errorf(format, args...))
	}
}

// text is the field in the given one of the columns asked for.
func (t *table) text(column int) string { return t.row[t.column[column]] }

// maybe is a number, NaN for an empty field.
func (t *table) maybe(column int) float64 {
	text := t.text(column)
	if text == "" {
		return math.NaN()
	}
	x, err := strconv.ParseFloat(text, 64)
	if err != nil || math.Abs(x) > 1e12 || math.IsNaN(x) {
		t.fail("%.20q is no number that belongs there", text)
		return math.NaN()
	}
	return x
}

// number is a number that has to be there.
func (t *table) number(column int) float64 {
	x := t.maybe(column)
	if math.IsNaN(x) {
		t.fail("a number is missing")
	}
	return x
}

// integer is a whole number that has to be there and is not negative.
func (t *table) integer(column int) int64 {
	n, err := strconv.ParseInt(t.text(column), 10, 64)
	if err != nil || n < 0 || n > 1<<40 {
		t.fail("%.20q is no count", t.text(column))
	}
	return n
}

// shortLines passes on a text, and an error instead of a row that no table has.
type shortLines struct {
	r      io.Reader
	length int
	quoted bool
}

const longestLine = 1 << 16

func (s *shortLines) Read(p []byte) (int, error) {
	n, err := s.r.Read(p)
	for _, c := range p[:n] {
		if c == '"' {
			s.quoted = !s.quoted
		}
		if s.length++; c == '\n' && !s.quoted {
			s.length = 0
		}
		if s.length > longestLine {
			return 0, errors.New("a line is far too long")
		}
	}
	return n, err
}

// damaged is the error for a file that no analysis could have left so.
func damaged(path string, err error) error {
	return fmt.Errorf("%s: %w; analyse the recording again", wavio.OneLine(path), err)
}

// explain names a file that could not be read, and what to do about it.
func explain(path string, err error) error {
	var pe *fs.PathError
	if errors.As(err, &pe) {
		err = pe.Err
	}
	what := "check the folder"
	switch {
	case errors.Is(err, fs.ErrNotExist):
		what = "give a recording, or the whole results folder of an analysis"
	case errors.Is(err, fs.ErrPermission):
		what = "ask for the right to read it"
	}
	return fmt.Errorf("%s: %w; %s", wavio.OneLine(path), err, what)
}
