package sequence

import (
	"math"

	"gonum.org/v1/gonum/mat"
)

// line is a stretch of beats that were heard, and the story told of it so far.
// Times are phases in units of the scatter that was found first.
type line struct {
	start  int     // of the run's beats heard, its first
	first  int64   // Index of that
	unit   float64 // s
	index  []int64 // from first on
	side   []uint8
	sign   []float64     // -1 for ticks, 1 for tocks
	gap    []float64     // beats since the one before
	raw    []float64     // phase as it was timed, less a straight line
	teeth  []float64     // of it, what comes round with the escape wheel
	shape  []float64     // teeth at each place of a turn; empty before they are fitted
	cov    *mat.SymDense // covariance of shape
	period int64         // of that, beats; 0 where nothing does
	y      []float64     // raw less teeth
	se     []float64     // that the sound leaves
	v      []float64     // variance of y
	step   []bool        // displaced for good from here on
	out    []bool        // displaced alone
	rung   []bool        // that is because it was marked a period of its ringing away

	fore  []course  // known of a beat from those before it, without a step there
	back  []course  // known of a beat from itself and those after it
	wrong []bool    // something at the beat could be changed for the better
	score []float64 // square of innovation over its variance; -1 where there is none

	blocks []block
	trust  float64  // what the squares of se are multiplied by; less than 1 where they are too large
	walk   float64  // variance that the phase gains a beat by chance, for good, in parts of that of y
	q      []wander // of the course to each beat
	tried  int      // beats gone through so far in search of what else may have happened
	price  float64  // of a step, in units of the log likelihood
	single float64  // price of a beat displaced alone
}

// unknown is the variance of a step's size beforehand.
const unknown = 1e10

// sweep follows the course forwards and backwards from beat a to beat b, from
// what is known at both ends.
func (l *line) sweep(a, b int) {
	l.forwards(a, b)
	l.backwards(a, b)
}

func (l *line) forwards(a, b int) {
	c := l.fore[a]
	if a == 0 {
		c = nothing
		c.x0 = l.y[0]
	}
	for j := a; ; j++ {
		l.fore[j] = c
		if j > b {
			return
		}
		if l.step[j] {
			c.p00 += unknown
		}
		if l.out[j] {
			l.score[j] = -1
		} else {
			e, variance := c.ahead(l.y[j], l.sign[j])
			l.score[j] = e * e / (variance + l.v[j])
			c.see(l.y[j], l.sign[j], l.v[j])
		}
		if j+1 == len(l.y) {
			return
		}
		c.move(l.gap[j+1], l.q[j+1])
	}
}

func (l *line) backwards(a, b int) {
	var c course
	if b+1 < len(l.y) {
		c = l.before(b + 1)
	} else {
		c = nothing
		c.x0 = l.y[b]
	}
	for j := b; ; j-- {
		if !l.out[j] {
			c.see(l.y[j], l.sign[j], l.v[j])
		}
		l.back[j] = c
		if j == a {
			return
		}
		if l.step[j] {
			c.p00 += unknown
		}
		c.move(-l.gap[j], l.q[j])
	}
}

// before returns what the beats from j on tell of the beat before j.
func (l *line) before(j int) course {
	c := l.back[j]
	if l.step[j] {
		c.p00 += unknown
	}
	c.move(-l.gap[j], l.q[j])
	return c
}

// leap returns size and variance of a step at beat j, whether or not one is in
// the story.
func (l *line) leap(j int) (size, variance float64) { return jump(&l.fore[j], &l.back[j]) }

// leapGain returns by how much a step at beat j makes the story more probable.
func (l *line) leapGain(j int) float64 {
	size, variance := l.leap(j)
	return size*size/variance/2 - l.price
}

// aloneGain returns by how much it does so that beat j is displaced alone.
func (l *line) aloneGain(j int) float64 {
	f := l.fore[j]
	if l.step[j] {
		f.p00 += unknown
	}
	e, variance := f.ahead(l.y[j], l.sign[j])
	if j+1 < len(l.y) {
		b := l.before(j + 1)
		var phase float64
		phase, variance = fuse(&f, &b, l.sign[j])
		e = l.y[j] - phase
	}
	return e*e/(variance+l.v[j])/2 - l.alonePrice(j)
}

// Where the movement is displaced, its next beats are looked for where they were due: of
// the first so many, one in ten is marked a period of its ringing away, nearer to that,
// where its sound rings and is faint. A contact rings at no less than some hundred hertz
// (s), and the error of one that rings is its period over 2π times its signal-to-noise
// ratio: with more than unclear, no noise makes its next period the higher one.
const (
	followed     = 3
	besideItself = 0.1
	ringing      = 1.2e-3
	unclear      = 12
)

// alonePrice returns what it costs that beat j is displaced alone.
func (l *line) alonePrice(j int) float64 {
	if l.rung[j] {
		return -math.Log(besideItself)
	}
	return l.single
}

// costs puts the negative logarithm of the story's probability into dst, by
// block, after forwards over the whole line. The scatter is as many times what was
// thought as is most likely in the median block.
func (l *line) costs(dst []float64) {
	var scales [2][]float64
	for _, b := range l.blocks {
		var n, sum [2]float64
		for j := b.from; j < b.to; j++ {
			if l.shows(j) {
				n[l.side[j]]++
				sum[l.side[j]] += cut(l.score[j])
			}
		}
		for side, n := range n {
			if n >= fewestBeats {
				scales[side] = append(scales[side], math.Max(sum[side]/n, 1e-6))
			}
		}
	}
	scale := [2]float64{1, 1}
	for side, x := range scales {
		if len(x) > 0 {
			scale[side] = median(x)
		}
	}
	for i, b := range l.blocks {
		dst[i] = 0
		for j := b.from; j < b.to; j++ {
			dst[i] += l.costOf(j, scale[l.side[j]])
		}
	}
}

// costOf returns what beat j adds to the negative logarithm of the probability,
// where its variance is scale times as large as was thought.
func (l *line) costOf(j int, scale float64) float64 {
	c := 0.
	if l.step[j] {
		c += l.price
	}
	if l.out[j] {
		c += l.alonePrice(j)
	}
	if !l.shows(j) {
		return c
	}
	_, variance := l.fore[j].ahead(0, l.sign[j])
	if variance += l.v[j]; variance > unknown/4 {
		return c
	}
	return c + (l.score[j]/scale+math.Log(scale*variance))/2
}

// shows tells whether the innovation of beat j is a measure of the scatter.
func (l *line) shows(j int) bool { return l.score[j] >= 0 && j >= 8 && !l.step[j] }
