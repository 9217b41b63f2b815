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
		step: make([]bool, n), out: make([]bool, n), wrong: make([]bool, n),
		fore: make([]course, n), back: make([]course, n), score: make([]float64, n), sign: make([]float64, n), q: make([]wander, n),
		price: price, single: half(outlying),
	}
	interval := (beats[n-1].Time - beats[0].Time) / float64(beats[n-1].Index-l.first)
	for j, b := range beats {
		l.index[j] = b.Index - l.first
		l.side[j] = uint8(b.Side) & 1
		l.sign[j] = float64(2*l.side[j]) - 1
		if j > 0 {
			l.gap[j] = float64(l.index[j] - l.index[j-1])
		}
		l.raw[j] = b.Time - beats[0].Time - interval*float64(l.index[j])
	}
	for a := 0; a < n; a += stride {
		l.blocks = append(l.blocks, block{from: a, to: min(a+stride, n)})
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
	for j := range l.raw {
		if v, ok := l.second(l.raw, j); ok {
			d = append(d, v)
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

// tell finds the story of the line.
func (l *line) tell() {
	l.learn()
	l.spread()
	l.climb()
	if l.period > 0 || slices.Contains(l.step, true) {
		l.learn()
		l.refine()
	}
}

// refine lets story and scatter agree, with the memory as it is.
func (l *line) refine() {
	l.weigh()
	l.search()
	l.rescatter()
	l.weigh()
	l.search()
}

// learn finds what comes round, by what is known of the story so far.
func (l *line) learn() {
	l.wheel(l.lilt())
	for j, v := range l.raw {
		l.y[j] = v - l.teeth[j]
	}
}

// climb tells the story with a longer and longer memory, everywhere as long as
// it gets more probable there. With a short one, only steps that stand out from
// few beats are seen, but each of those, however close they are.
func (l *line) climb() {
	n := len(l.blocks)
	open := make([]bool, n)
	for i := range open {
		open[i] = true
	}
	before, now := make([]float64, n), make([]float64, n)
	for level, m := range memories {
		held := slices.Clone(l.blocks)
		step, out := slices.Clone(l.step), slices.Clone(l.out)
		for i := range open {
			if open[i] {
				l.blocks[i].memory = m
			}
		}
		l.weigh()
		l.look()
		if level > 0 && l.refuse(open, held) {
			l.weigh()
			l.look()
		}
		if l.mend() {
			l.search()
		}
		l.costs(now)
		if level > 0 {
			worse := l.judge(open, before, now)
			for i, w := range worse {
				if w {
					l.blocks[i] = held[i]
					a, b := held[i].from, held[i].to
					copy(l.step[a:b], step[a:b])
					copy(l.out[a:b], out[a:b])
				}
			}
			if !slices.Contains(worse, true) {
				l.rescatter()
			}
		}
		copy(before, now)
		if !slices.Contains(open, true) {
			break
		}
	}
	l.refine()
}

// refuse closes the blocks in which most beats look wrong: the course bends, and
// nothing happened. They are left as they were held.
func (l *line) refuse(open []bool, held []block) bool {
	any := false
	for i, b := range l.blocks {
		n := 0
		for _, w := range l.wrong[b.from:b.to] {
			if w {
				n++
			}
		}
		if open[i] && 2*n > b.to-b.from {
			l.blocks[i], open[i], any = held[i], false, true
		}
	}
	return any
}

// judge closes the blocks whose neighbourhood became less probable, and returns
// them.
func (l *line) judge(open []bool, before, now []float64) []bool {
	worse := make([]bool, len(open))
	for i := range open {
		gain := 0.
		for k := max(i-1, 0); k <= min(i+1, len(open)-1); k++ {
			gain += before[k] - now[k]
		}
		worse[i] = open[i] && gain < 0
	}
	for i, w := range worse {
		open[i] = open[i] && !w
	}
	return worse
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
