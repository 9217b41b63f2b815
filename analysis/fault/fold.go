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

// WithLosses returns the mean deviation with the time that late and early events
// lost there, an even share of it in every turn, and its standard error, to which
// comes that of how often they happen: a share of a number of turns is binomial.
func (p *Position) WithLosses() (mean, se float64) {
	if p.Events == 0 || p.Beats == 0 {
		return p.Mean, p.SE
	}
	turns := float64(max(p.Beats, p.Events))
	often := float64(p.Events) / turns
	size := p.Lost / float64(p.Events)
	return p.Mean + often*size, math.Hypot(p.SE, size*math.Sqrt(often*(1-often)/turns))
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

// aroundMean calls f with every beat heard, counted from the first one, and its
// deviation in seconds from the mean over the period around it. whole tells
// whether that period lies within the run. Beats next to a displacement are left
// out.
func (r *run) aroundMean(period float64, f func(i int, d float64, whole bool)) {
	w := newMovingMean(&r.fine, period)
	next := 0
	for i := range r.fine.n {
		mean := w.advance()
		if next < len(r.cuts) && r.cuts[next] == i {
			next++
			continue
		}
		if v := r.fine.at(i); !math.IsNaN(v) {
			f(i, v-mean, i >= w.half && i+w.half < r.fine.n)
		}
	}
}

// movingMean is the mean of the values around each value of a series in turn.
// The window is one period long: the values at its ends count in part.
type movingMean struct {
	s     *series
	half  int     // whole steps from the middle to either end
	ends  float64 // weight of the end values
	i     int     // next middle
	sum   float64 // of the values strictly within the window
	count int
}

func newMovingMean(s *series, period float64) *movingMean {
	half := int(math.Ceil((period - 1) / 2))
	w := &movingMean{s: s, half: half, ends: (period - float64(2*half-1)) / 2}
	for i := range min(half-1, s.n) {
		w.add(i, 1)
	}
	return w
}

// add adds value i to the window with sign 1, or removes it with -1.
func (w *movingMean) add(i, sign int) {
	if i < 0 || i >= w.s.n {
		return
	}
	if v := w.s.at(i); !math.IsNaN(v) {
		w.sum += float64(sign) * v
		w.count += sign
	}
}

// advance returns the mean around the next value, 0 where the window is empty.
func (w *movingMean) advance() float64 {
	w.add(w.i+w.half-1, 1)
	w.add(w.i-w.half, -1)
	sum, weight := w.sum, float64(w.count)
	for _, i := range [2]int{w.i - w.half, w.i + w.half} {
		if i < 0 || i >= w.s.n {
			continue
		}
		if v := w.s.at(i); !math.IsNaN(v) {
			sum += w.ends * v
			weight += w.ends
		}
	}
	w.i++
	if weight == 0 {
		return 0
	}
	return sum / weight
}
