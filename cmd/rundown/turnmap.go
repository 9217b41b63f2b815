package main

import (
	"math"

	"rundown/analysis"
	"rundown/analysis/beat"
	"rundown/plotting/chart"
)

// turnMap gathers the chart of the run turn by turn of the escape wheel.
type turnMap struct {
	teeth  int
	grid   *chart.Grid
	shifts map[int64]float64 // seconds by which a beat still to come was displaced for good
}

func newTurnMap(teeth int) *turnMap {
	return &turnMap{teeth: teeth, grid: chart.NewGrid(2 * teeth), shifts: map[int64]float64{}}
}

// events notes what displaces beats. The fit of a window takes such jumps out
// of the residuals; on the map they belong to the beat at which they happened.
func (m *turnMap) events(events []beat.Event) {
	for _, ev := range events {
		if ev.Kind == beat.Late || ev.Kind == beat.Early {
			m.shifts[ev.Beat] += ev.Shift
		}
	}
}

// beats enters rows into the map.
func (m *turnMap) beats(rows []analysis.Row) {
	for i := range rows {
		r := &rows[i]
		shift := m.shifts[r.Index]
		delete(m.shifts, r.Index)
		if r.Heard && !math.IsNaN(r.Residual) {
			m.grid.Add(r.Index, r.Time, r.Residual+shift)
		}
	}
}
