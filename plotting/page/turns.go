package page

import (
	"fmt"
	"math"

	"rundown/plotting/chart"
)

// turns is the map of the run: one row a turn of the escape wheel, one column
// a beat.
type turns struct {
	Columns int      `json:"columns"`
	Rows    int      `json:"rows"`
	Merged  int      `json:"merged"` // turns in one row
	Teeth   int      `json:"teeth"`
	Start   figures  `json:"start"` // of each row, s
	Limit   float64  `json:"limit"` // of the colour scale, s
	Colours []string `json:"colours"`
	// Cells holds a byte for each cell, row by row: 0 where no beat was heard,
	// else 128 plus the deviation in hundredths of the limit.
	Cells []byte `json:"cells"`
}

func newTurns(r Run) *turns {
	c := r.Grid.Cells(mostCells)
	if c.Rows == 0 {
		return nil
	}
	t := &turns{Columns: c.Columns, Rows: c.Rows, Merged: c.Merged, Teeth: r.Teeth, Start: c.Start, Limit: c.Limit}
	for _, ink := range chart.DeviationColours(63) {
		t.Colours = append(t.Colours, fmt.Sprintf("#%02x%02x%02x", ink.R, ink.G, ink.B))
	}
	for _, x := range c.Mean {
		t.Cells = append(t.Cells, cell(x/c.Limit))
	}
	return t
}

// cell is a deviation, in units of the limit, as a byte.
func cell(x float64) byte {
	if math.IsNaN(x) {
		return 0
	}
	return byte(128 + min(max(math.Round(100*x), -127), 127))
}
