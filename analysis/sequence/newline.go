package sequence

import (
	"math"

	"gonum.org/v1/gonum/stat/distuv"
)

const (
	// falseAnHour is the rate of steps that are found where there is none, as far
	// as the model of the beats holds: a tenth of what is promised, which leaves
	// the rest to what the model does not know.
	falseAnHour = 0.01
	// outlying is the deviate from which a beat is displaced alone: one in ten
	// thousand is without that.
	outlying = 3.89
)

// finest is the least scatter that is believed, s: what a time in s of a week
// long run is rounded to, and more.
const finest = 1e-8

// newLine makes a stretch of at least fewestBeats beats that were heard.
func newLine(beats []Beat) *line {
	n := len(beats)
	l := &line{
		first: beats[0].Index, index: make([]int64, n), side: make([]uint8, n),
		raw: make([]float64, n), teeth: make([]float64, n), y: make([]float64, n),
		se: make([]float64, n), v: make([]float64, n), gap: make([]float64, n),
		step: make([]bool, n), out: make([]bool, n), rung: make([]bool, n), wrong: make([]bool, n),
		fore: make([]course, n), back: make([]course, n), score: make([]float64, n),
		sign: make([]float64, n), q: make([]wander, n),
		trust: 1, single: outlying * outlying / 2,
	}
	interval := (beats[n-1].Time - beats[0].Time) / float64(beats[n-1].Index-l.first)
	l.price = price(math.Abs(interval))
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

// price returns what a step costs in units of the log likelihood, where beats
// are interval seconds apart: half the square of the deviate that a beat exceeds
// by chance often enough for falseAnHour. Each place is looked at with every
// memory.
func price(interval float64) float64 {
	each := falseAnHour * interval / 3600 / float64(len(memories))
	z := distuv.UnitNormal.Quantile(math.Min(math.Max(1-each/2, 0.5), 1-1e-12))
	return z * z / 2
}
