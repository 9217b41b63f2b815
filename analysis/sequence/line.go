package sequence

import "math"

// line is a stretch of beats that were heard, and the story told of it so far.
// Phases are in units of the scatter that was found first.
type line struct {
	start int     // of the run's beats heard, its first
	first int64   // Index of that
	unit  float64 // s
	index []int64 // from first on
	side  []uint8
	raw   []float64 // phase as it was timed, less a straight line
	teeth []float64 // of it, what comes round with the escape wheel
	y     []float64 // raw less teeth and beat error
	se    []float64 // that the sound leaves
	v     []float64 // variance of y
	gap   []float64 // beats since the one before
	step  []bool    // displaced for good from here on
	out   []bool    // displaced alone

	fore  []course  // known of a beat from those before it, without a step there
	back  []course  // known of a beat from itself and those after it
	score []float64 // square of innovation over its variance; -1 where there is none

	sigma2 [2]float64 // variance of y by side, about its course
	memory float64    // beats over which the course bends little
	q      float64    // variance by which it wanders a beat: memory^-6 times that of y
	price  float64    // of a step, in units of the log likelihood
	single float64    // price of a beat displaced alone
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
	for j := a; j <= b; j++ {
		l.fore[j] = c
		if l.step[j] {
			c.p00 += unknown
		}
		if l.out[j] {
			l.score[j] = -1
		} else {
			e := l.y[j] - c.x0
			l.score[j] = e * e / (c.p00 + l.v[j])
			c.see(l.y[j], l.v[j])
		}
		if j+1 < len(l.gap) {
			c.move(l.gap[j+1], l.q)
		}
	}
	if b+1 < len(l.fore) {
		l.fore[b+1] = c
	}
}

func (l *line) backwards(a, b int) {
	c := nothing
	if b+1 < len(l.back) {
		c = l.before(b + 1)
	} else {
		c.x0 = l.y[b]
	}
	for j := b; ; j-- {
		if !l.out[j] {
			c.see(l.y[j], l.v[j])
		}
		l.back[j] = c
		if j == a {
			return
		}
		if l.step[j] {
			c.p00 += unknown
		}
		c.move(-l.gap[j], l.q)
	}
}

// before returns what the beats from j on tell of the beat before j.
func (l *line) before(j int) course {
	c := l.back[j]
	if l.step[j] {
		c.p00 += unknown
	}
	c.move(-l.gap[j], l.q)
	return c
}

// leap returns size and variance of a step at beat j, whether or not one is
// there in the story.
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
	phase, variance := f.x0, f.p00
	if j+1 < len(l.back) {
		b := l.before(j + 1)
		phase, variance = between(&f, &b)
	}
	e := l.y[j] - phase
	return e*e/(variance+l.v[j])/2 - l.single
}

// cost is the negative logarithm of the story's probability, with the scatter
// of both sides at its most likely, after forwards over the whole line.
func (l *line) cost() float64 {
	var n, sum [2]float64
	total := 0.
	for j, s := range l.score {
		if l.step[j] {
			total += l.price
		}
		if l.out[j] {
			total += l.single
		}
		if s < 0 || l.step[j] || j < 3 {
			continue
		}
		n[l.side[j]]++
		sum[l.side[j]] += s
		total += math.Log(l.fore[j].p00+l.v[j]) / 2
	}
	for i, m := range n {
		if m > 0 {
			total += m / 2 * (1 + math.Log(sum[i]/m))
		}
	}
	return total
}
