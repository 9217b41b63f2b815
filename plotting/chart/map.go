package chart

import (
	"fmt"
	"math"
	"slices"
	"sort"

	"gonum.org/v1/plot"
	"gonum.org/v1/plot/plotter"
	"gonum.org/v1/plot/vg"

	"rundown/analysis/fault"
	"rundown/analysis/prose"
)

// Measures of a map.
const (
	shortRows            = 250 // rows that a figure of the usual height shows well
	stripRows            = 800 // rows in one strip of a page
	mostStrips           = 6
	mostCells            = 200_000 // what a page may hold
	pageHeight vg.Length = 640     // points
)

// Heat is the map of a run: one row a turn of a wheel or some turns that follow
// each other, one column a beat.
type Heat struct {
	Columns int     `json:"columns"`
	Rows    int     `json:"rows"`
	Merged  int     `json:"merged"` // turns in one row
	First   int64   `json:"first"`  // number of the beat in the first cell
	Teeth   int     `json:"teeth"`  // by which columns are numbered; 0 where they are by beats
	Start   Numbers `json:"start"`  // of each row, and the end of the last; true seconds
	Limit   float64 `json:"limit"`  // deviation at the ends of the colour scale, s
	Colours []Ink   `json:"colours"`
	// Cells holds a byte for each cell, row by row: 0 where no beat was heard,
	// else 128 plus the deviation in hundredths of the limit, positive when late.
	Cells []byte `json:"cells"`
}

// MostRows is how many rows a map of so many columns can show.
func MostRows(columns int) int { return min(mostStrips*stripRows, max(1, mostCells/columns)) }

// Map draws the whole run turn by turn: one row a turn of the wheel, one
// column a beat, coloured by deviation. What comes round with the wheel is a
// vertical line, what comes round with a wheel further up a slanted one. In the
// picture, a long run goes on in further strips to the right. starts holds the
// true time at which each row begins, and that at which the last one ends, in
// order. teeth is the number of teeth by which the columns are numbered, 0 to
// number them by beats. A column in which a recurrence returns, in every turn or
// every so many turns, bears an arrow.
func Map(h Heading, m fault.Map, starts []float64, teeth int, recurrences []fault.Recurrence) *Figure {
	p := &Panel{X: Axis{High: float64(m.Columns)}, Y: Axis{High: float64(max(m.Rows, 1)), Down: true}, bare: true}
	f := newFigure("Map of the run, turn by turn", h, p)
	if m.Rows == 0 {
		p.Banner = "no beat was heard"
		return f
	}
	if len(starts) != m.Rows+1 || m.Rows > MostRows(m.Columns) {
		panic("chart: a map with other rows than it can show")
	}
	if m.Rows > shortRows {
		f.height = pageHeight
	}
	p.strips = (m.Rows + stripRows - 1) / stripRows
	p.Heat = newHeat(m, starts, teeth)
	p.X, p.Y = p.Heat.columns(24/p.strips), p.Heat.times(8*p.strips)
	key := p.Heat.key()
	p.Keyed, p.colours = &key, p.Heat.Colours
	p.pin(recurrences, p.Heat.column)
	p.Areas = []Area{p.Heat.breaks(p.Y.High / float64(p.strips) / 110)}
	f.note(p.Heat.reading(p.strips, p.Areas[0].Boxes != nil))
	return f
}

// newHeat is a map as it is drawn.
func newHeat(m fault.Map, starts []float64, teeth int) *Heat {
	h := &Heat{Columns: m.Columns, Rows: m.Rows, Merged: m.TurnsPerRow, First: m.First, Teeth: teeth,
		Start: starts, Limit: limit(m), Colours: deviations(63)}
	for _, x := range m.Values {
		h.Cells = append(h.Cells, cell(float64(x)/h.Limit))
	}
	return h
}

// limit is what the ends of the colour scale stand for: a round size that all
// but a fiftieth of the cells stay below, judged by some thousands of them.
func limit(m fault.Map) float64 {
	const enough = 20000
	var sizes []float64
	for row := 0; row < m.Rows; row += 1 + len(m.Values)/enough {
		for _, v := range m.Values[row*m.Columns:][:m.Columns] {
			if v := math.Abs(float64(v)); finite(v) {
				sizes = append(sizes, v)
			}
		}
	}
	if len(sizes) == 0 {
		return 1e-6
	}
	slices.Sort(sizes)
	return roundUp(max(quantile(sizes, 0.98), 1e-6))
}

// roundUp is the next of 1, 1.5, 2, 3, 5 times a power of ten.
func roundUp(v float64) float64 {
	unit := math.Pow(10, math.Floor(math.Log10(v)))
	for _, m := range []float64{1, 1.5, 2, 3, 5} {
		if v <= m*unit*(1+1e-9) {
			return m * unit
		}
	}
	return 10 * unit
}

// length is the time that a row takes in seconds.
func (h *Heat) length(row int) float64 { return h.Start[row+1] - h.Start[row] }

// stopped is above what length of a row the movement stood still in it: twice
// the usual one.
func (h *Heat) stopped() float64 {
	lengths := make([]float64, h.Rows)
	for r := range lengths {
		lengths[r] = h.length(r)
	}
	slices.Sort(lengths)
	return 2 * quantile(lengths, 0.5)
}

// breaks are lines after the rows in which the movement stood still.
func (h *Heat) breaks(thick float64) Area {
	a, stopped := Area{Ink: yellow}, h.stopped()
	for r := range h.Rows {
		if h.length(r) > stopped {
			a.Boxes = append(a.Boxes, [4]float64{0, float64(r+1) - thick/2, float64(h.Columns), float64(r+1) + thick/2})
		}
	}
	return a
}

// times has the ticks of elapsed time where the rows are that began then; none
// within a stop.
func (h *Heat) times(most int) Axis {
	times := elapsedAxis(span{h.Start[0], max(h.Start[h.Rows], h.Start[0]+1)}, most)
	rows := Axis{Label: times.Label + ", downwards", Kind: Elapsed, High: float64(h.Rows), Down: true}
	stopped, last := h.stopped(), math.Inf(-1)
	for _, t := range times.Ticks {
		r := sort.Search(h.Rows, func(r int) bool { return h.Start[r+1] > t.Value })
		if r == h.Rows || t.Value < h.Start[r] || h.length(r) > stopped {
			continue
		}
		row := float64(r) + (t.Value-h.Start[r])/h.length(r)
		if t.Label != "" && row-last < rows.High/float64(4*most) {
			t.Label = "" // it would cover the one before
		} else if t.Label != "" {
			last = row
		}
		rows.Ticks = append(rows.Ticks, plot.Tick{Value: row, Label: t.Label})
	}
	return rows
}

// cell is a deviation, in units of the limit, as a byte.
func cell(x float64) byte {
	if math.IsNaN(x) {
		return 0
	}
	return byte(128 + min(max(math.Round(100*x), -127), 127))
}

// deviation is that of a cell in seconds, NaN where no beat was heard.
func (h *Heat) deviation(row, column int) float64 {
	if v := h.Cells[row*h.Columns+column]; v != 0 {
		return (float64(v) - 128) / 100 * h.Limit
	}
	return math.NaN()
}

// key is the colour key, symmetrical about zero; late is dark.
func (h *Heat) key() Axis {
	unit, scale := "ms", 1e3
	if h.Limit < 2e-4 {
		unit, scale = "µs", 1e6
	}
	a := valueAxis("deviation ("+unit+"), late is +", span{-h.Limit * scale, h.Limit * scale}, 9, true)
	for i := range a.Ticks {
		a.Ticks[i].Value /= scale
	}
	a.Unit, a.Low, a.High = unit, -h.Limit, h.Limit
	return a
}

// column is the place on the axis of the column in which a recurrence returns,
// false where it doesn't keep to one.
func (h *Heat) column(r fault.Recurrence) (float64, bool) {
	turns := r.PeriodBeats / float64(h.Columns)
	whole := math.Round(turns)
	return math.Floor(math.Mod(r.PhaseBeats, float64(h.Columns))) + 0.5, whole >= 1 && math.Abs(turns-whole) < 1e-6
}

// columns numbers the columns, by tooth where they are known.
func (h *Heat) columns(most int) Axis {
	if h.Teeth < 1 {
		a := valueAxis("beat of the turn", span{0, max(float64(h.Columns-1), 1)}, most, false)
		a.High = float64(h.Columns)
		for i := range a.Ticks {
			a.Ticks[i].Value += 0.5
		}
		return a
	}
	each := float64(h.Columns) / float64(h.Teeth)
	s := step{1, 1}
	if h.Teeth > most {
		s = valueStep(1, float64(h.Teeth), most)
		s.minor = max(s.minor, 1)
	}
	a := Axis{Label: "tooth", High: float64(h.Columns), Ticks: spread(1, float64(h.Teeth), s, func(v float64) string { return prose.Unsigned(v, 0) })}
	for i := range a.Ticks {
		a.Ticks[i].Value = (a.Ticks[i].Value - 0.5) * each
	}
	return a
}

// reading says how to read the map.
func (h *Heat) reading(strips int, stopped bool) string {
	s := "Time runs downwards"
	if strips > 1 {
		s += ", then on at the top of the next strip"
	}
	if h.Merged > 1 {
		s += fmt.Sprintf("; each row is the mean of %d turns", h.Merged)
	}
	s += ". A vertical line comes round with this wheel; bands that slant or lie level come round with a wheel further up. White: not heard, or beside a jump."
	if stopped {
		s += " Yellow line: the movement stood still."
	}
	return s
}

// split divides a panel with a map into its strips, with rows counted upwards
// to the negative, as a plot wants them; another panel is its own strip.
func (p *Panel) split() []*Panel {
	if p.Heat == nil {
		return []*Panel{p}
	}
	var strips []*Panel
	per := (p.Heat.Rows + p.strips - 1) / p.strips
	for first := 0; first < p.Heat.Rows; first += per {
		strip := *p
		strip.Y.Low, strip.Y.High, strip.Y.Ticks = -float64(first+per), -float64(first), nil
		for _, t := range p.Y.Ticks {
			if t.Value = -t.Value; strip.Y.span().contains(t.Value) {
				strip.Y.Ticks = append(strip.Y.Ticks, t)
			}
		}
		strip.Areas = []Area{{Ink: p.Areas[0].Ink}}
		for _, b := range p.Areas[0].Boxes {
			strip.Areas[0].Boxes = append(strip.Areas[0].Boxes, [4]float64{b[0], -b[3], b[2], -b[1]})
		}
		if first > 0 {
			strip.Y.Label = ""
		}
		strips = append(strips, &strip)
	}
	return strips
}

// rows is the map of a strip.
func (p *Panel) rows() *plotter.HeatMap {
	first := int(-p.Y.High)
	last := min(int(-p.Y.Low), p.Heat.Rows) // the last strip may be shorter: its foot stays empty
	return heat(p.Heat.Columns, last-first, span{-float64(last), -float64(first)}, p.colours, func(column, row int) float64 {
		return p.Heat.deviation(last-1-row, column)
	}, p.Keyed.span())
}

// heat is a map of columns of unit width and rows from the foot up that divide
// a range; values beyond the scale take the colours of its ends.
func heat(columns, rows int, along span, colours []Ink, value func(column, row int) float64, scale span) *plotter.HeatMap {
	g := cells{columns, rows, along, value}
	return &plotter.HeatMap{GridXYZ: g, Palette: inks(colours), Min: scale.lo, Max: scale.hi,
		Underflow: colours[0], Overflow: colours[len(colours)-1], Rasterized: true}
}

// cells implements plotter.GridXYZ.
type cells struct {
	columns, rows int
	along         span
	value         func(column, row int) float64
}

func (g cells) Dims() (columns, rows int) { return g.columns, g.rows }
func (g cells) Z(column, row int) float64 { return g.value(column, row) }
func (g cells) X(column int) float64      { return float64(column) + 0.5 }
func (g cells) Y(row int) float64 {
	return g.along.lo + (float64(row)+0.5)*g.along.width()/float64(g.rows)
}
