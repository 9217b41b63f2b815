package sequence

import "math"

// lilt finds by how much tocks come later than ticks against an even beat, slowly
// changing, from each beat and its two neighbours of the other side.
func (l *line) lilt(wheel []float64) []float64 {
	const wide = 16 // beats from one neighbour to the other, at most
	n := len(l.raw)
	m := make([]float64, n)
	for j := range m {
		m[j] = math.NaN()
		if j == 0 || j+1 >= n || l.side[j-1] != l.side[j+1] || l.side[j] == l.side[j-1] || l.gap[j]+l.gap[j+1] > wide ||
			l.step[j] || l.step[j+1] || l.out[j-1] || l.out[j] || l.out[j+1] {
			continue
		}
		a, b := l.gap[j], l.gap[j+1]
		at := func(i int) float64 { return l.raw[i] - wheel[i] }
		m[j] = at(j) - (at(j-1)*b+at(j+1)*a)/(a+b)
		if l.side[j] == 0 {
			m[j] = -m[j]
		}
	}
	c := slow(m)
	for j := range c {
		if math.IsNaN(c[j]) {
			c[j] = 0
		}
		c[j] /= 2
		if l.side[j] == 0 {
			c[j] = -c[j]
		}
	}
	return c
}

const (
	fewest, most = 12, 128 // beats in a turn of an escape wheel
	turns        = 6       // that a wheel has to be heard for
)

// wheel finds what comes round with the escape wheel without losing time: the
// mean of each place, or zeros where nothing comes round.
func (l *line) wheel(lilt []float64) []float64 {
	n := len(l.raw)
	none := make([]float64, n)
	d := make([]float64, n)
	for j := range d {
		d[j] = math.NaN()
		if j > 0 && l.gap[j] == 1 && !l.step[j] && !l.out[j] && !l.out[j-1] {
			d[j] = l.raw[j] - lilt[j] - l.raw[j-1] + lilt[j-1]
		}
	}
	buf := make([]float64, 0, n)
	for j, c := range slow(d) {
		d[j] -= c
		if !math.IsNaN(d[j]) {
			buf = append(buf, d[j])
		}
	}
	if len(buf) < turns*fewest {
		return none
	}
	sd := mad(buf, 0)
	if !(sd > 0) {
		return none
	}
	period := l.comesRound(d, sd)
	if period == 0 {
		return none
	}
	shape := l.shape(d, sd, period)
	for j := range none {
		none[j] = shape[l.index[j]%period]
	}
	return none
}

// comesRound returns the number of beats after which the increments d, with
// scatter sd, repeat, or 0. A sum of squares of means of P places, neighbours
// of which share a beat, has the mean P and the variance 3P by chance.
func (l *line) comesRound(d []float64, sd float64) int64 {
	const (
		clip = 4 // in sd, so that no single beat decides
		sure = 8 // in standard deviations
	)
	best, top := int64(0), float64(sure)
	var sum, count [most]float64
	for p := int64(fewest); p <= most && p*turns <= int64(len(d)); p += 2 {
		clear(sum[:p])
		clear(count[:p])
		last, phase := l.index[0], l.index[0]%p
		for j, v := range d {
			phase += l.index[j] - last
			last = l.index[j]
			if phase >= p {
				phase %= p
			}
			if v == v {
				sum[phase] += max(min(v, clip*sd), -clip*sd)
				count[phase]++
			}
		}
		chi, places := 0., 0.
		for i, c := range count[:p] {
			if c > 0 {
				chi += sum[i] * sum[i] / c
				places++
			}
		}
		if z := (chi/(sd*sd) - places) / math.Sqrt(3*places); z > top {
			best, top = p, z
		}
	}
	return best
}

// shape returns the mean of each place of a turn from increments d with scatter
// sd. What leaps further than the scatter allows is a step, unless it leaps back
// in the same turn, every turn.
func (l *line) shape(d []float64, sd float64, period int64) []float64 {
	at := make([][]float64, period)
	for j, v := range d {
		if !math.IsNaN(v) {
			p := l.index[j] % period
			at[p] = append(at[p], v)
		}
	}
	rise := make([]float64, period)
	leaps, size, doubt := 0., 0., 0.
	var leaping []int
	for p, all := range at {
		if len(all) < turns/2 {
			continue
		}
		sum, kept := 0., 0.
		for _, v := range all {
			if math.Abs(v) < 3.5*sd {
				sum += v
				kept++
			}
		}
		if kept > 0.2*float64(len(all)) {
			rise[p] = sum / kept
			continue
		}
		rise[p] = median(all)
		leaping = append(leaping, p)
		leaps += rise[p]
		size = math.Max(size, math.Abs(rise[p]))
		doubt += 2 * sd * sd / float64(len(all))
	}
	if leaps*leaps > 16*doubt+0.01*size*size {
		for _, p := range leaping {
			rise[p] = 0
		}
	}
	return level(rise, leaping)
}

// level sums the rises up to a shape that ends where it began, with a mean of 0.
func level(rise []float64, leaping []int) []float64 {
	mean := 0.
	for _, r := range rise {
		mean += r / float64(len(rise))
	}
	sum, all := 0., 0.
	for i, r := range rise {
		sum += r - mean
		rise[i] = sum
		all += sum / float64(len(rise))
	}
	for i := range rise {
		rise[i] -= all
	}
	return rise
}
