package main

import (
	"math"
	"slices"

	"rundown/analysis"
	"rundown/analysis/fault"
	"rundown/analysis/rate"
	"rundown/analysis/train"
	"rundown/plotting/chart"
)

// turnMap is the run turn by turn of the escape wheel.
type turnMap struct {
	teeth  int // by which its columns are numbered; 0 numbers them by beats
	cells  fault.Map
	starts []float64 // of the rows and the end of the last, true seconds
}

// mostColumns is how many beats a turn may have for its map to be readable.
const mostColumns = 400

// newTurnMap draws up the map of a run: of its escape wheel, or where that is
// not known, of whatever comes round most strongly in a whole number of beats.
// It returns nil where there is neither, or less than two turns.
func newTurnMap(run *analysis.Result, t *train.Train) *turnMap {
	m := &turnMap{}
	columns := 0
	switch {
	case t != nil:
		m.teeth = t.Arbors[len(t.Arbors)-1].Escape
		columns = 2 * m.teeth
	case len(run.Found) > 0:
		if p := run.Found[0].PeriodBeats; p == math.Round(p) {
			columns = int(p)
		}
	}
	if columns < 3 || columns > mostColumns || run.Beat.Counted < 2*int64(columns) {
		return nil
	}
	m.cells = run.Faults.Map(columns, chart.MostRows(columns))
	at := timeline(run.Windows)
	for row := range m.cells.Rows {
		m.starts = append(m.starts, at(m.cells.First+int64(row*columns*m.cells.TurnsPerRow)))
	}
	m.starts = append(m.starts, float64(run.Summary.Beat.Last))
	return m
}

// timeline returns the time of a beat in seconds, to the nearest beat or so,
// from the number of beats in each window.
func timeline(windows []rate.Window) func(beat int64) float64 {
	passed := make([]int64, len(windows)) // beats before the end of each window
	total := int64(0)
	for i, w := range windows {
		total += int64(w.Beats)
		passed[i] = total
	}
	return func(beat int64) float64 {
		i, _ := slices.BinarySearch(passed, beat+1)
		if i == len(windows) {
			return windows[i-1].End
		}
		w := windows[i]
		part := 1 - float64(passed[i]-beat)/float64(w.Beats)
		return w.Start + part*(w.End-w.Start)
	}
}
