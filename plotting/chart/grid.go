package chart

import (
	"math"
	"slices"
)

// mostRows is how many rows a Grid keeps: what a page can show. Of wheels that
// turn in very many beats there are fewer, so that there are no more than
// mostCells cells.
const (
	mostRows  = mostStrips * stripRows
	mostCells = 200_000
)

// Grid collects the deviations of all beats of a run, one row a turn of a
// wheel, one column a beat. Its memory is bounded: of a long run it averages
// as many turns that follow each other as it must, a power of two.
type Grid struct {
	beats  int // in one turn
	merged int // turns in one row
	sums   []float64
	counts []int32
	starts []float64 // time of the first beat added to each row, s; NaN in an empty row
	end    float64   // of the last beat added, s
}

// NewGrid returns an empty grid for a wheel that turns once in a number of
// beats, at least 1.
func NewGrid(beatsPerTurn int) *Grid {
	if beatsPerTurn < 1 {
		panic("chart: a turn has at least one beat")
	}
	return &Grid{beats: beatsPerTurn, merged: 1}
}

// Add enters a beat that was heard: its number, which is not negative, its time
// in true seconds, and its deviation from its place in seconds, positive when
// late. Beats come in order.
func (g *Grid) Add(beat int64, time, deviation float64) {
	if beat < 0 {
		panic("chart: negative beat number")
	}
	if !finite(deviation) || !finite(time) {
		return
	}
	for beat/int64(g.beats)/int64(g.merged) >= g.limitRows() {
		g.merge()
	}
	row := int(beat / int64(g.beats) / int64(g.merged))
	for len(g.starts) <= row {
		g.sums = append(g.sums, make([]float64, g.beats)...)
		g.counts = append(g.counts, make([]int32, g.beats)...)
		g.starts = append(g.starts, math.NaN())
	}
	if math.IsNaN(g.starts[row]) {
		g.starts[row] = time
	}
	cell := row*g.beats + int(beat%int64(g.beats))
	g.sums[cell] += deviation
	g.counts[cell]++
	g.end = time
}

// limitRows is how many rows the grid keeps.
func (g *Grid) limitRows() int64 { return int64(min(mostRows, max(1, mostCells/g.beats))) }

// merge joins each two rows.
func (g *Grid) merge() {
	rows := len(g.starts)
	half := (rows + 1) / 2
	for r := range rows {
		into := r / 2
		for c := range g.beats {
			from, to := r*g.beats+c, into*g.beats+c
			sum, n := g.sums[from], g.counts[from]
			if r%2 == 1 {
				sum, n = sum+g.sums[to], n+g.counts[to]
			}
			g.sums[to], g.counts[to] = sum, n
		}
		if r%2 == 0 || math.IsNaN(g.starts[into]) {
			g.starts[into] = g.starts[r]
		}
	}
	g.sums, g.counts, g.starts = g.sums[:half*g.beats], g.counts[:half*g.beats], g.starts[:half]
	g.merged *= 2
}

// rows is the number of rows.
func (g *Grid) rows() int { return len(g.starts) }

// mean is the mean deviation of a cell, NaN where no beat was heard.
func (g *Grid) mean(row, column int) float64 {
	cell := row*g.beats + column
	if g.counts[cell] == 0 {
		return math.NaN()
	}
	return g.sums[cell] / float64(g.counts[cell])
}

// limit is what the ends of the colour scale stand for: a round size that all
// but a fiftieth of the cells stay below, judged by some thousands of them.
func (g *Grid) limit() float64 {
	const enough = 20000
	var sizes []float64
	for row := 0; row < g.rows(); row += 1 + g.rows()*g.beats/enough {
		for c := range g.beats {
			if m := g.mean(row, c); !math.IsNaN(m) {
				sizes = append(sizes, math.Abs(m))
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

// breaks lists the rows before which much more time passed than it takes to
// turn the wheel.
func (g *Grid) breaks() (rows []int) {
	ordinary, before := g.rowLength(), -1
	for r, start := range g.starts {
		if math.IsNaN(start) {
			continue
		}
		if before >= 0 && start-g.starts[before] > (float64(r-before)+1)*ordinary {
			rows = append(rows, r)
		}
		before = r
	}
	return rows
}

// rowAt is where on the axis of rows a time lies, between the beginnings of the
// rows that were heard before and after it; false where no turns of ordinary
// length passed there, as in a stop.
func (g *Grid) rowAt(time float64) (float64, bool) {
	before, after := point{t: math.Inf(1)}, point{t: g.end, x: float64(g.rows())}
	for r, start := range g.starts {
		if start <= time {
			before = point{t: start, x: float64(r)}
		} else if start > time {
			after = point{t: start, x: float64(r)}
			break
		}
	}
	passed, turns := after.t-before.t, after.x-before.x
	if !(passed > 0) || time > after.t || passed > 2*turns*g.rowLength() {
		return before.x, time == before.t
	}
	return before.x + (time-before.t)/passed*turns, true
}

// rowLength is the usual time from one row to the next in seconds.
func (g *Grid) rowLength() float64 {
	var lengths []float64
	for r := 1; r < g.rows(); r++ {
		if d := g.starts[r] - g.starts[r-1]; d > 0 {
			lengths = append(lengths, d)
		}
	}
	if len(lengths) == 0 {
		return math.Inf(1)
	}
	slices.Sort(lengths)
	return quantile(lengths, 0.5)
}
