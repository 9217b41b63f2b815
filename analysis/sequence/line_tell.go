package sequence

import (
	"math"
	"slices"
)

// finest is the least scatter that is believed, s: what a time in s of a week
// long run is rounded to, and more.
const finest = 1e-8

// newLine makes a stretch of at least fewestBeats beats that were heard.
func newLine(beats []Beat, price float64) *line {
	n := len(beats)
	l := &line{
		first: beats[0].Index, index: make([]int64, n), side: make([]uint8, n),
		raw: make([]float64, n), teeth: make([]float64, n), y: make([]float64, n),
		se: make([]float64, n), v: make([]float64, n), gap: make([]float64, n),
		step: make([]bool, n), out: make([]bool, n),
		fore: make([]course, n), back: make([]course, n), score: make([]float64, n),
		price: price, single: half(outlying),
	}
	slopes := make([]float64, 0, n)
	for j, b := range beats {
		l.index[j] = b.Index - l.first
		l.side[j] = uint8(b.Side) & 1
		if j > 0 {
			l.gap[j] = float64(l.index[j] - l.index[j-1])
		}
		if j > 1 {
			slopes = append(slopes, (b.Time-beats[j-2].Time)/(l.gap[j]+l.gap[j-1]))
		}
	}
	interval := median(slopes)
	for j, b := range beats {
		l.raw[j] = b.Time - beats[0].Time - interval*float64(l.index[j])
	}
	l.scale()
	for j, b := range beats {
		l.raw[j] /= l.unit
		if b.SE > 0 && !math.IsInf(b.SE, 1) {
			l.se[j] = b.SE / l.unit
		}
	}
	return l
}

// scale finds the unit: the scatter by the second differences of each side, of
// which steps and outliers spoil no more than a few.
func (l *line) scale() {
	var d []float64
	for j := 4; j < len(l.raw); j++ {
		if l.index[j]-l.index[j-4] == 4 {
			d = append(d, l.raw[j]-2*l.raw[j-2]+l.raw[j-4])
		}
	}
	if len(d) < fewestBeats {
		d = d[:0]
		for j := 1; j < len(l.raw); j++ {
			d = append(d, l.raw[j]-l.raw[j-1])
		}
	}
	l.unit = math.Max(mad(d, 0)/math.Sqrt(6), finest)
}

// rate sets the variance of each beat from the scatter of its side and its own
// error.
func (l *line) weigh() {
	var mean, n [2]float64
	for j, s := range l.se {
		mean[l.side[j]] += s * s
		n[l.side[j]]++
	}
	sum := 0.
	for j, s := range l.se {
		side := l.side[j]
		of := l.sigma2[side]
		own := math.Min(mean[side]/n[side], of)
		l.v[j] = of - own + s*s*own*n[side]/math.Max(mean[side], 1e-300)
		sum += l.v[j]
	}
	l.q = sum / float64(len(l.v)) * math.Pow(l.memory, -6)
}

// tell finds the story of the line.
func (l *line) tell() {
	l.learn()
	l.spread()
	l.climb()
	before := slices.Clone(l.y)
	l.learn()
	_ = before
	l.weigh()
	l.search()
	l.rescatter()
	l.weigh()
	l.search()
}

// learn finds what comes round, by what is known of the story so far.
func (l *line) learn() {
	lilt := l.lilt(l.teeth)
	l.teeth = l.wheel(lilt)
	lilt = l.lilt(l.teeth)
	for j, v := range l.raw {
		l.y[j] = v - lilt[j] - l.teeth[j]
	}
}

// spread finds the scatter of each side as scale does.
func (l *line) spread() {
	var d [2][]float64
	for j := 4; j < len(l.y); j++ {
		if l.index[j]-l.index[j-4] == 4 {
			d[l.side[j]] = append(d[l.side[j]], l.y[j]-2*l.y[j-2]+l.y[j-4])
		}
	}
	least := half(finest/l.unit) * 2
	for i := range d {
		l.sigma2[i] = 1
		if len(d[i]) >= 4*fewestBeats {
			s := mad(d[i], 0)
			l.sigma2[i] = math.Max(s*s/6, least)
		}
	}
}

// rescatter finds the scatter of each side from the innovations, after search.
func (l *line) rescatter() {
	var n, sum [2]float64
	for j, s := range l.score {
		if s >= 0 && !l.step[j] && j >= 3 {
			n[l.side[j]]++
			sum[l.side[j]] += s
		}
	}
	least := half(finest/l.unit) * 2
	for i, m := range n {
		if m >= fewestBeats {
			l.sigma2[i] = math.Max(l.sigma2[i]*sum[i]/m, least)
		}
	}
}

// climb tells the story with a longer and longer memory, as long as it gets more
// probable. With a short one, only steps that stand out from few beats are seen,
// but each of those, however close they are.
func (l *line) climb() {
	best := math.Inf(1)
	var told []bool
	var alone []bool
	var held float64
	var sigma2 [2]float64
	for _, m := range memories {
		l.memory = m
		l.weigh()
		l.search()
		cost := l.cost()
		if cost > best {
			break
		}
		if m > memories[0] {
			l.rescatter()
		}
		best, held, sigma2 = cost, m, l.sigma2
		told, alone = slices.Clone(l.step), slices.Clone(l.out)
	}
	l.memory, l.sigma2 = held, sigma2
	copy(l.step, told)
	copy(l.out, alone)
}

// clear returns how many beats the beat j of the run is from whatever happened,
// up to quiet.
func (l *line) clear(j int) int {
	j -= l.start
	for d := range quiet {
		for _, i := range []int{j - d - 1, j + d} {
			if i >= 0 && i < len(l.step) && (l.step[i] || l.out[i]) {
				return d
			}
		}
	}
	return quiet
}
