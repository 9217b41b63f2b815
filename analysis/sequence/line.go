package sequence

import "math"

// line is a stretch of beats that were heard, and the story told of it so far.
// Ticks and tocks follow a course each, so that the beat error may change as it
// likes; a step displaces both. Times are phases in units of the scatter that
// was found first.
type line struct {
	start int     // of the run's beats heard, its first
	first int64   // Index of that
	unit  float64 // s
	index []int64 // from first on
	side  []uint8
	last  []int     // the beat before on the same side, or -1
	next  []int     // the beat after on the same side, or the number of beats
	past  []int     // the beat before on the other side, or -1
	other []int     // the beat after on the other side, or the number of beats
	gap   []float64 // beats since last
	raw   []float64 // phase as it was timed, less a straight line
	teeth []float64 // of it, what comes round with the escape wheel
	y     []float64 // raw less teeth
	se    []float64 // that the sound leaves
	v     []float64 // variance of y
	step  []bool    // displaced for good from here on
	out   []bool    // displaced alone

	fore  []course  // known of a beat from those before it on its side, without a step there
	back  []course  // known of a beat from itself and those after it on its side
	score []float64 // square of innovation over its variance; -1 where there is none
	leaps []leap    // of the side's course at each beat

	sigma2 [2]float64 // variance of y by side, about its course
	memory []float64  // beats over which the course bends little, by block
	q      []float64  // variance by which it wanders a beat
	price  float64    // of a step, in units of the log likelihood
	single float64    // price of a beat displaced alone
}

// leap is by how much a course leaps, and the inverse of that size's variance.
type leap struct{ size, weight float64 }

// unknown is the variance of a step's size beforehand.
const unknown = 1e10

// sweep follows both courses forwards and backwards from beat a to beat b, from
// what is known at the ends, and compares at each beat what both ways tell.
func (l *line) sweep(a, b int) {
	l.forwards(a, b)
	l.backward(b, a)
	l.backward(l.past[b], a)
	for j := a; j <= b; j++ {
		l.leaps[j] = l.leapAt(j)
	}
	for _, j := range [2]int{l.next[b], l.other[b]} {
		if j < len(l.y) {
			l.leaps[j] = l.leapAt(j)
		}
	}
}

func (l *line) leapAt(j int) leap {
	if l.last[j] < 0 {
		return leap{}
	}
	size, variance := jump(&l.fore[j], &l.back[j])
	return leap{size, 1 / variance}
}

func (l *line) forwards(a, b int) {
	l.forward(a, b)
	l.forward(l.other[a], b)
}

// forward follows one side from beat j to b, and says what is known of the beat
// after.
func (l *line) forward(j, b int) {
	n := len(l.y)
	if j >= n {
		return
	}
	c := l.fore[j]
	if l.last[j] < 0 {
		c = nothing
		c.x0 = l.y[j]
	}
	for {
		l.fore[j] = c
		if j > b {
			return
		}
		if l.shock(j) > 0 {
			c.p00 += unknown
		}
		if l.out[j] {
			l.score[j] = -1
		} else {
			e := l.y[j] - c.x0
			l.score[j] = e * e / (c.p00 + l.v[j])
			c.see(l.y[j], l.v[j])
		}
		if j = l.next[j]; j >= n {
			return
		}
		c.move(l.gap[j], l.q[j])
	}
}

// shock returns how many steps there are between beat j and the last one of its
// side.
func (l *line) shock(j int) int {
	n := 0
	for i := j; i > l.last[j]; i-- {
		if l.step[i] {
			n++
		}
	}
	return n
}

// before returns what the beats from j on tell of the last one of the side.
func (l *line) before(j int) course {
	c := l.back[j]
	if l.shock(j) > 0 {
		c.p00 += unknown
	}
	c.move(-l.gap[j], l.q[j])
	return c
}

// backward follows one side from beat j back to a.
func (l *line) backward(j, a int) {
	if j < a {
		return
	}
	c := nothing
	if i := l.next[j]; i < len(l.y) {
		c = l.before(i)
	} else {
		c.x0 = l.y[j]
	}
	for {
		if !l.out[j] {
			c.see(l.y[j], l.v[j])
		}
		l.back[j] = c
		i := l.last[j]
		if i < a {
			return
		}
		if l.shock(j) > 0 {
			c.p00 += unknown
		}
		c.move(-l.gap[j], l.q[j])
		j = i
	}
}

// leap returns size of a step at beat j, whether or not one is in the story, and
// the inverse of its variance: what both courses tell of it, as far as no other
// step lies between the same beats of one.
func (l *line) leap(j int) leap {
	var sum leap
	own := 0
	if l.step[j] {
		own = 1
	}
	add := func(i int) {
		if i < len(l.y) && l.shock(i) == own {
			p := l.leaps[i]
			sum.size += p.size * p.weight
			sum.weight += p.weight
		}
	}
	add(j)
	add(l.other[j])
	if sum.weight > 0 {
		sum.size /= sum.weight
	}
	return sum
}

// leapGain returns by how much a step at beat j makes the story more probable.
func (l *line) leapGain(j int) float64 {
	p := l.leap(j)
	return p.size*p.size*p.weight/2 - l.price
}

// aloneGain returns by how much it does so that beat j is displaced alone.
func (l *line) aloneGain(j int) float64 {
	f := l.fore[j]
	if l.shock(j) > 0 {
		f.p00 += unknown
	}
	phase, variance := f.x0, f.p00
	if i := l.next[j]; i < len(l.y) {
		b := l.before(i)
		phase, variance = between(&f, &b)
	}
	e := l.y[j] - phase
	return e*e/(variance+l.v[j])/2 - l.single
}

// costs adds to dst, by block, the negative logarithm of the story's probability,
// after forwards over the whole line. The scatter is that which is most likely.
func (l *line) costs(dst []float64) {
	scale := l.innovations()
	for i := range scale {
		scale[i] = math.Max(scale[i], 1e-6)
	}
	for j, s := range l.score {
		c := 0.
		if l.step[j] {
			c += l.price
		}
		if l.out[j] {
			c += l.single
		}
		if l.shows(j) {
			k := scale[l.side[j]]
			c += (s/k + math.Log(k*(l.fore[j].p00+l.v[j]))) / 2
		}
		dst[j/stride] += c
	}
}

// shows tells whether the innovation of beat j is a measure of the scatter.
func (l *line) shows(j int) bool { return l.score[j] >= 0 && j >= 8 && l.shock(j) == 0 }

// innovations returns the mean square of the innovations of each side over their
// variance; 1 where there are too few.
func (l *line) innovations() [2]float64 {
	var n, sum [2]float64
	for j, s := range l.score {
		if l.shows(j) {
			n[l.side[j]]++
			sum[l.side[j]] += s
		}
	}
	mean := [2]float64{1, 1}
	for i, m := range n {
		if m >= fewestBeats {
			mean[i] = sum[i] / m
		}
	}
	return mean
}
