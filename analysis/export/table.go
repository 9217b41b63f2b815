package export

import (
	"io"
	"strconv"
	"strings"

	"rundown/analysis/prose"
)

// table writes rows of comma-separated values (RFC 4180, lines ended by a
// single newline). A row is built by its methods and ended by end. Errors
// stick.
type table struct {
	w   io.Writer
	row []byte
	err error
}

func newTable(w io.Writer, columns ...string) *table {
	t := &table{w: w}
	for _, c := range columns {
		t.text(c)
	}
	t.end()
	return t
}

// next puts the comma before all fields but the first.
func (t *table) next() {
	if len(t.row) > 0 {
		t.row = append(t.row, ',')
	}
}

func (t *table) integer(n int64) {
	t.next()
	t.row = strconv.AppendInt(t.row, n, 10)
}

// number writes x with the given number of decimals, or an empty field if it
// is not a finite number. It must not be the first of its row.
func (t *table) number(x float64, decimals int) {
	t.next()
	t.row = appendFixed(t.row, x, decimals)
}

// text writes a string, quoted where it has to be. It must not be empty if it
// is the first of its row.
func (t *table) text(s string) {
	t.next()
	s = prose.Cell(s)
	if strings.ContainsAny(s, ",\"\r\n") {
		s = `"` + strings.ReplaceAll(s, `"`, `""`) + `"`
	}
	t.row = append(t.row, s...)
}

func (t *table) end() {
	t.row = append(t.row, '\n')
	if t.err == nil {
		_, t.err = t.w.Write(t.row)
	}
	t.row = t.row[:0]
}
