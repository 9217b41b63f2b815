package fault

import (
	"math"
)

// Fold is the mean deviation of the beats by their position in a turn.
type Fold struct {
	Period    float64 // beats in one turn
	Positions []Position
}

// Position is one of the equal parts of a turn.
type Position struct {
	Beat   float64 // first beat of the position: beat number modulo the period
	Mean   float64 // mean deviation, seconds, positive when late; NaN without beats
	SE     float64 // its standard error, seconds; NaN with fewer than two beats
	Beats  int     // beats averaged
	Events int     // late and early events and stops at this position
	Lost   float64 // sum of their shifts, seconds
}

// maxPositions is the number of positions of a turn of many beats.
const maxPositions = 360

// Fold folds the run by a period in beats, which must be greater than 2, into
// some positions; with 0 into one for every beat of the turn, or 360 where there
// are more. A deviation is that of a beat from the mean over the turn around it,
// which has no part in what repeats with the turn, but follows drift; the
// difference between tick and tock and the displacements by events are taken
// out. Beats less than half a turn from the ends of the run are left out, and
// hence all where the run is shorter than a turn.
func (c *Collector) Fold(period float64, positions int) Fold {
	if !(period > 2) || positions < 0 {
		panic("fault: fold by a period of two beats or less, or into negative positions")
	}
	if positions == 0 {
		positions = int(min(math.Round(period), maxPositions))
	}
	r := c.finish()
	f := Fold{Period: period, Positions: make([]Position, positions)}
	squares := make([]float64, positions)
	at := func(i int64) int {
		turns := float64(i+c.first)/period + 1e-9
		return min(int((turns-math.Floor(turns))*float64(positions)), positions-1)
	}
	r.aroundMean(period, func(i int, d float64, whole bool) {
		if whole {
			p := &f.Positions[at(int64(i))]
			p.Beats++
			p.Mean += d
			squares[at(int64(i))] += d * d
		}
	})
	for _, e := range c.counted(displaced) {
		p := &f.Positions[at(e.beat)]
		p.Events++
		p.Lost += e.shift
	}
	for i := range f.Positions {
		f.Positions[i].finish(float64(i)*period/float64(positions), squares[i])
	}
	return f
}

// finish turns the sums of deviations and of their squares into a mean.
func (p *Position) finish(first, squares float64) {
	n := float64(p.Beats)
	p.Beat = first
	p.Mean /= n
	p.SE = math.NaN()
	if n > 1 {
		p.SE = math.Sqrt(max(0, squares/n-p.Mean*p.Mean) / (n - 1))
	}
}
