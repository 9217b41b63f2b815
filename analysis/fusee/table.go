package fusee

import (
	"encoding/csv"
	"errors"
	"fmt"
	"io"
	"math"
	"os"
	"strconv"
	"strings"
)

// Table is a torque curve as it was measured at the barrel's arbor.
type Table struct {
	Turns []float64 // unwound from full wind, growing
	Down  []float64 // torque that the spring gives as it runs down, N·mm
	Up    []float64 // torque that winds it there, N·mm; nil where it was not measured
}

// perGram is how many N·mm a gram-force centimetre is: standard gravity, ISO 80000-4.
const perGram = 9.80665e-2

const (
	fewestRows  = 3
	mostRows    = 100000
	largestFile = 8 << 20 // bytes
	most        = 1e9     // of any figure
)

// Load reads a torque table from a file. Errors are one line that names it and says
// what to do.
func Load(path string, grams bool) (*Table, error) {
	info, err := os.Stat(path)
	if err == nil && !info.Mode().IsRegular() {
		err = errors.New("it is no file")
	}
	if err == nil && info.Size() > largestFile {
		err = errors.New("it is far too large for a torque table")
	}
	var text []byte
	if err == nil {
		text, err = os.ReadFile(path)
	}
	var t *Table
	if err == nil {
		t, err = Parse(strings.NewReader(string(text)), grams)
	}
	if err == nil {
		return t, nil
	}
	if pe := new(os.PathError); errors.As(err, &pe) {
		err = fmt.Errorf("%w; give a table with the columns turns, torque_nmm", pe.Err)
	}
	return nil, naming(path, err)
}

// Parse reads a torque table: comma-separated values with the columns turns and
// torque_nmm, or turns, up_nmm and down_nmm, in any order and among others. Names
// that end in _gcm are gram-centimetres; those without a unit are too where grams
// is set. Columns may be separated by semicolons or tabs, and decimals then be
// written with a comma.
func Parse(r io.Reader, grams bool) (*Table, error) {
	text, err := io.ReadAll(io.LimitReader(r, largestFile))
	if err != nil {
		return nil, err
	}
	c := csv.NewReader(strings.NewReader(strings.TrimPrefix(string(text), "\ufeff")))
	first, _, _ := strings.Cut(string(text), "\n")
	for _, separator := range ";\t" {
		if strings.ContainsRune(first, separator) {
			c.Comma = separator
			break
		}
	}
	c.Comment, c.TrimLeadingSpace, c.FieldsPerRecord = '#', true, -1
	header, err := c.Read()
	if err != nil {
		return nil, unreadable(err)
	}
	p, err := newParser(c, header, grams)
	if err != nil {
		return nil, err
	}
	for {
		row, err := c.Read()
		if err == io.EOF {
			return p.table()
		}
		if err == nil {
			err = p.add(row)
		}
		if err != nil {
			return nil, unreadable(err)
		}
	}
}

// unreadable puts the fault of a row in words.
func unreadable(err error) error {
	var parse *csv.ParseError
	switch {
	case err == io.EOF:
		return errors.New("it is empty; it needs the columns turns, torque_nmm")
	case errors.As(err, &parse):
		return fmt.Errorf("line %d: %w; correct it", parse.Line, parse.Err)
	}
	return err
}

// parser collects the rows of a table.
type parser struct {
	csv    *csv.Reader
	fields int
	column map[string]int     // of "turns", "torque", "up", "down"; −1 where there is none
	unit   map[string]float64 // in N·mm
	out    Table
}

func newParser(c *csv.Reader, header []string, grams bool) (*parser, error) {
	p := &parser{csv: c, fields: len(header), column: map[string]int{"turns": -1, "torque": -1, "up": -1, "down": -1}, unit: map[string]float64{}}
	for i, name := range header {
		name = strings.ToLower(strings.TrimSpace(name))
		unit := 1.0
		bare, gcm := strings.CutSuffix(name, "_gcm")
		bare, nmm := strings.CutSuffix(bare, "_nmm")
		if gcm || grams && !nmm {
			unit = perGram
		}
		if at, known := p.column[bare]; known {
			if at >= 0 {
				return nil, fmt.Errorf("line 1: two columns for %s; leave one", bare)
			}
			p.column[bare], p.unit[bare] = i, unit
		}
	}
	both := p.column["up"] >= 0 && p.column["down"] >= 0
	if p.column["turns"] < 0 || (p.column["torque"] >= 0) == both {
		return nil, errors.New("line 1: it needs the columns turns, torque_nmm, or turns, up_nmm, down_nmm")
	}
	return p, nil
}

// add takes a row in. An empty one is passed over.
func (p *parser) add(row []string) error {
	if strings.TrimSpace(strings.Join(row, "")) == "" {
		return nil
	}
	line, _ := p.csv.FieldPos(0)
	fault := func(format string, args ...any) error {
		return fmt.Errorf("line %d: "+format, append([]any{line}, args...)...)
	}
	if len(row) != p.fields {
		return fault("%d fields, where the header has %d; where commas are decimal points, separate the columns by semicolons", len(row), p.fields)
	}
	figure := func(name string) float64 {
		if p.column[name] < 0 {
			return math.NaN()
		}
		return p.number(row[p.column[name]])
	}
	turns, down, up := figure("turns"), figure("down"), figure("up")
	if p.column["torque"] >= 0 {
		down = p.unit["torque"] * figure("torque")
	} else {
		down, up = p.unit["down"]*down, p.unit["up"]*up
	}
	n := len(p.out.Turns)
	switch {
	case math.IsNaN(turns) || math.IsNaN(down) || p.column["up"] >= 0 && math.IsNaN(up):
		return fault("a number is missing or is none; write 1.25, without a unit")
	case turns < 0 || n > 0 && turns <= p.out.Turns[n-1]:
		return fault("%g turns: they grow from row to row, from 0 at full wind; give the mean of repeated measurements", turns)
	case down < 0:
		return fault("a torque below 0; give what the spring pulls with, without a sign")
	case up < down:
		return fault("up is less than down: up is the torque that winds the spring, down what it gives as it runs down")
	case n >= mostRows:
		return fault("more than %d rows are too many; leave some out", mostRows)
	}
	p.out.Turns, p.out.Down = append(p.out.Turns, turns), append(p.out.Down, down)
	if p.column["up"] >= 0 {
		p.out.Up = append(p.out.Up, up)
	}
	return nil
}

// number reads a figure, NaN where it is none that can be used.
func (p *parser) number(text string) float64 {
	text = strings.TrimSpace(text)
	if p.csv.Comma != ',' {
		text = strings.Replace(text, ",", ".", 1)
	}
	x, err := strconv.ParseFloat(text, 64)
	if err != nil || !(math.Abs(x) <= most) {
		return math.NaN()
	}
	return x
}

// table checks the whole.
func (p *parser) table() (*Table, error) {
	t := &p.out
	n := len(t.Turns)
	switch {
	case n < fewestRows:
		return nil, fmt.Errorf("%d rows are too few for a curve; measure at %d turns or more, better twice a turn", n, fewestRows)
	case t.Down[n-1] >= t.Down[0]:
		return nil, errors.New("the torque does not fall from the first row to the last; turns are counted as unwound, from 0 at full wind: turn the table round")
	}
	return t, nil
}

// Friction is what the two directions of a torque table tell apart.
type Friction struct {
	Mean float64 // torque of the spring alone, over all rows, N·mm: the mean of up and down
	Half float64 // half of up minus down, N·mm: what rubs in the barrel and between the coils
}

// Friction averages over the turns; it reports false where up was not measured. It
// holds as far as friction is the same in both directions.
func (t *Table) Friction() (Friction, bool) {
	if t.Up == nil {
		return Friction{}, false
	}
	var f Friction
	n := float64(len(t.Turns))
	for i, down := range t.Down {
		f.Mean += (t.Up[i] + down) / 2 / n
		f.Half += (t.Up[i] - down) / 2 / n
	}
	return f, true
}
