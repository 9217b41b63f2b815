package fault

import "math"

// Map is a picture of the run, one row a turn, or some turns, of the escape
// wheel, and one column a beat.
type Map struct {
	First       int64     // number of the beat in the first cell, a multiple of Columns
	Columns     int       // beats in one turn
	Rows        int       // filled rows
	TurnsPerRow int       // turns averaged in one row
	Values      []float32 // deviations, row by row, seconds, positive when late; NaN where no beat was heard
}

// mapTurns is the number of turns around a beat from whose mean it deviates: so
// many that the turns of the next wheel up the train stay visible.
const mapTurns = 50

// Map draws the map of the run for turns of some beats, at least 3, on at most
// maxRows rows. A deviation is that of a beat from the mean over the fifty turns
// around it. In a row of several turns it is the mean of them. The beat at which
// a late or early event began stands out by the whole shift, though the beats
// after it do not; not so where the movement stood still for longer than a beat.
func (c *Collector) Map(columns, maxRows int) Map {
	if columns < 3 || maxRows < 1 {
		panic("fault: map of less than 3 columns or 1 row")
	}
	r := c.finish()
	m := Map{First: c.first - mod(c.first, int64(columns)), Columns: columns, TurnsPerRow: 1}
	if c.n == 0 {
		return m
	}
	turns := int((c.first+c.n-1-m.First)/int64(columns)) + 1
	m.TurnsPerRow = (turns + maxRows - 1) / maxRows
	m.Rows = (turns + m.TurnsPerRow - 1) / m.TurnsPerRow
	m.Values = make([]float32, m.Rows*columns)
	count := make([]int32, len(m.Values))
	cell := func(i int64) int {
		at := i + c.first - m.First
		return int(at/int64(columns))/m.TurnsPerRow*columns + int(at%int64(columns))
	}
	r.aroundMean(float64(columns*mapTurns), func(i int, d float64, _ bool) {
		m.Values[cell(int64(i))] += float32(d)
		count[cell(int64(i))]++
	})
	for i, n := range count {
		m.Values[i] /= float32(n) // NaN where no beat was heard
	}
	for _, e := range c.counted(displaced) {
		if math.Abs(e.shift) < r.interval {
			m.Values[cell(e.beat)] = float32(e.shift)
		}
	}
	return m
}

// mod is the remainder of a/b that is not negative.
func mod(a, b int64) int64 { return ((a % b) + b) % b }
