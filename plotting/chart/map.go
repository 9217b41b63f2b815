package chart

import (
	"fmt"
	"math"
	"slices"

	"gonum.org/v1/plot"
	"gonum.org/v1/plot/plotter"
	"gonum.org/v1/plot/vg"

	"rundown/analysis/fault"
)

// Measures of a map.
const (
	shortRows            = 250 // rows that a figure of the usual height shows well
	stripRows            = 800 // rows in one strip of a page
	mostStrips           = 6
	pageHeight vg.Length = 640 // points
)

// Heat is the map of a run: one row a turn of a wheel or some turns that follow
// each other, one column a beat.
type Heat struct {
	Columns int     `json:"columns"`
	Rows    int     `json:"rows"`
	Merged  int     `json:"merged"` // turns in one row
	Teeth   int     `json:"teeth"`  // by which columns are numbered; 0 where they are by beats
	Start   Numbers `json:"start"`  // true time of each row's first beat, s; NaN where none was heard
	Limit   float64 `json:"limit"`  // deviation at the ends of the colour scale, s
	Colours []Ink   `json:"colours"`
	// Cells holds a byte for each cell, row by row: 0 where no beat was heard,
	// else 128 plus the deviation in hundredths of the limit, positive when late.
	Cells []byte `json:"cells"`
}

// Map draws the whole run turn by turn: one row a turn of the wheel, one
// column a beat, coloured by deviation. What comes round with the wheel is a
// vertical line, what comes round with a wheel further up a slanted one. In the
// picture, a long run goes on in further strips to the right. teeth is the
// number of teeth by which the columns are numbered, 0 to number them by beats.
// A column in which a recurrence returns, in every turn or every so many turns,
// bears an arrow.
func Map(h Heading, g *Grid, teeth int, recurrences []fault.Recurrence) *Figure {
	rows := g.rows()
	p := &Panel{X: Axis{High: float64(g.beats)}, Y: Axis{High: float64(max(rows, 1)), Down: true}, bare: true}
	f := newFigure("Map of the run, turn by turn", h, p)
	if rows == 0 {
		p.Banner = "no beat was heard"
		return f
	}
	if rows > shortRows {
		f.height = pageHeight
	}
	p.strips = min((rows+stripRows-1)/stripRows, mostStrips)
	p.X = g.axis(teeth, 24/p.strips)
	p.Y = g.timeAxis(8 * p.strips)
	p.Heat = g.heat(teeth)
	key := p.Heat.key()
	p.Keyed, p.colours = &key, p.Heat.Colours
	p.pin(recurrences, g.column)
	p.addBreaks(g.breaks())
	f.note(g.reading(p.strips))
	return f
}

// addBreaks draws yellow lines with dark edges before rows.
func (p *Panel) addBreaks(rows []int) {
	thick := p.Y.High / float64(p.strips) / 300
	for _, row := range rows {
		for _, half := range []struct {
			ink  Ink
			rows float64
		}{{ink, thick}, {yellow, 0.6 * thick}} {
			p.Areas = append(p.Areas, Area{Ink: half.ink, Boxes: [][4]float64{{0, float64(row) - half.rows, p.X.High, float64(row) + half.rows}}})
		}
	}
}

// heat is the grid as it is drawn.
func (g *Grid) heat(teeth int) *Heat {
	h := &Heat{Columns: g.beats, Rows: g.rows(), Merged: g.merged, Teeth: teeth, Start: g.starts, Limit: g.limit(), Colours: deviations(63)}
	for row := range h.Rows {
		for column := range h.Columns {
			h.Cells = append(h.Cells, cell(g.mean(row, column)/h.Limit))
		}
	}
	return h
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
func (g *Grid) column(r fault.Recurrence) (float64, bool) {
	turns := r.PeriodBeats / float64(g.beats)
	whole := math.Round(turns)
	return math.Floor(math.Mod(r.PhaseBeats, float64(g.beats))) + 0.5, whole >= 1 && math.Abs(turns-whole) < 1e-6
}

// timeAxis has the ticks of elapsed time where the rows are that began then;
// none where a stop was, or the row has one already.
func (g *Grid) timeAxis(most int) Axis {
	start := g.starts[slices.IndexFunc(g.starts, finite)]
	times := elapsedAxis(span{start, max(g.end, start+1)}, most)
	rows := Axis{Label: times.Label + ", downwards", Kind: Elapsed, High: float64(g.rows()), Down: true}
	last := math.Inf(-1)
	for _, t := range times.Ticks {
		row, ok := g.rowAt(t.Value)
		if !ok {
			continue
		}
		if t.Label != "" && row-last < rows.High/float64(4*most) {
			t.Label = "" // it would cover the one before
		} else if t.Label != "" {
			last = row
		}
		rows.Ticks = append(rows.Ticks, plot.Tick{Value: row, Label: t.Label})
	}
	return rows
}

// axis numbers the columns, by tooth where there are as many beats as the
// teeth give.
func (g *Grid) axis(teeth, most int) Axis {
	if teeth < 1 {
		a := valueAxis("beat of the turn", span{0, max(float64(g.beats-1), 1)}, most, false)
		a.High = float64(g.beats)
		for i := range a.Ticks {
			a.Ticks[i].Value += 0.5
		}
		return a
	}
	each := float64(g.beats) / float64(teeth)
	s := step{1, 1}
	if teeth > most {
		s = valueStep(1, float64(teeth), most)
		s.minor = max(s.minor, 1)
	}
	a := Axis{Label: "tooth", High: float64(g.beats), Ticks: spread(1, float64(teeth), s, func(v float64) string { return plain(v, 0) })}
	for i := range a.Ticks {
		a.Ticks[i].Value = (a.Ticks[i].Value - 0.5) * each
	}
	return a
}

// reading says how to read the map.
func (g *Grid) reading(strips int) string {
	s := "Time runs downwards"
	if strips > 1 {
		s += ", then on at the top of the next strip"
	}
	if g.merged > 1 {
		s += fmt.Sprintf("; each row is the mean of %d turns", g.merged)
	}
	s += ". A vertical line comes round with this wheel; bands that slant or lie level come round with a wheel further up. White: not heard, or beside a jump."
	if len(g.breaks()) > 0 {
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
		strip.Areas = nil
		for _, a := range p.Areas {
			b := a.Boxes[0]
			strip.Areas = append(strip.Areas, Area{Ink: a.Ink, Boxes: [][4]float64{{b[0], -b[3], b[2], -b[1]}}})
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
