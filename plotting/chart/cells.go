package chart

import (
	"image/color"
	"math"
)

// Cells is what a Grid holds, for those who draw the map themselves.
type Cells struct {
	Columns, Rows int
	Merged        int       // turns in one row
	Start         []float64 // true time of each row's first beat, s; NaN where none was heard
	Limit         float64   // deviation at the ends of the colour scale, s
	Mean          []float64 // deviation by row and column, s, positive when late; NaN where no beat was heard
}

// Cells returns the mean deviations of the grid, with no more than most of
// them (but one row at the least): rows that follow each other are averaged.
func (g *Grid) Cells(most int) Cells {
	join := 1
	for (g.rows()+join-1)/join*g.beats > most && join < g.rows() {
		join *= 2
	}
	c := Cells{Columns: g.beats, Merged: g.merged * join, Limit: g.limit()}
	for row := 0; row < g.rows(); row += join {
		last := min(row+join, g.rows())
		start := math.NaN()
		for _, t := range g.starts[row:last] {
			if math.IsNaN(start) {
				start = t
			}
		}
		c.Start = append(c.Start, start)
		for column := range g.beats {
			c.Mean = append(c.Mean, g.mean(row, last, column))
		}
		c.Rows++
	}
	return c
}

// DeviationColours is the colour scale of the map in n steps, at least 2, from
// early to late.
func DeviationColours(n int) []color.RGBA { return ramp(deviationAnchors, n) }
