package sequence

import (
	"math"

	"gonum.org/v1/gonum/stat/distuv"
)

const (
	// FalseAnHour is the rate of steps that are found where there is none, as far
	// as the model of the beats holds: a tenth of what is promised, which leaves
	// the rest to what the model does not know.
	FalseAnHour = 0.01
	// outlying is the deviate from which a beat is displaced alone: one in ten thousand
	// without being so.
	outlying = 3.89

	core        = 6144 // beats heard that a stretch adds to the story
	margin      = 1024 // beats heard that it sees on either side of them, or more
	fewestBeats = 8    // heard, of which a story can be told
	quiet       = 24   // beats without anything, where two stretches are joined best
)

// memories are the numbers of beats over which the rate may bend little, about,
// from the fewest.
var memories = []float64{3, 8, 24, 72, 216}

// Tell returns the most probable story of beats in order of Index. Beats whose
// Time is not a number, or whose Index does not come after the one before, are
// left out.
func Tell(beats []Beat) *Story {
	t := teller{Story: &Story{}}
	for len(beats) > 0 {
		n := 1
		for n < len(beats) && !beats[n].Fresh {
			n++
		}
		t.run(beats[:n])
		beats = beats[n:]
	}
	return t.finish()
}

// teller tells the story run by run.
type teller struct {
	*Story
	count, sum [2]float64 // beats that show the scatter by side, and the sum of their variances
	uneven     float64    // sum of squares of what comes round
	memory     []float64  // of each stretch
}

// run tells the story of beats of which each tells of the others.
func (t *teller) run(beats []Beat) {
	heard := make([]Beat, 0, len(beats))
	for _, b := range beats {
		if b.Heard && !math.IsNaN(b.Time-b.Time) && (len(heard) == 0 || b.Index > heard[len(heard)-1].Index) {
			heard = append(heard, b)
		}
	}
	if len(heard) < fewestBeats {
		return
	}
	first, last := heard[0], heard[len(heard)-1]
	price := price(math.Abs(last.Time-first.Time) / float64(last.Index-first.Index))
	count := max(len(heard)/core, 1)
	edge := func(i int) int { return i * len(heard) / count }
	var before *line
	from := 0 // first beat that is not in the story yet
	for i := range count {
		start := max(edge(i)-margin, 0)
		l := newLine(heard[start:min(edge(i+1)+margin, len(heard))], price)
		l.start = start
		l.tell()
		if before != nil {
			to := calm(before, l, edge(i))
			t.add(before, from, to)
			from = to
		}
		before = l
	}
	t.add(before, from, len(heard))
}

// price returns what a step costs in units of the log likelihood, where beats
// are interval seconds apart: half the square of the deviate that a beat exceeds
// by chance often enough for FalseAnHour. Each place is looked at with every
// memory.
func price(interval float64) float64 {
	each := FalseAnHour * interval / 3600 / float64(len(memories))
	return half(distuv.UnitNormal.Quantile(math.Min(math.Max(1-each/2, 0.5), 1-1e-12)))
}

func half(z float64) float64 { return z * z / 2 }

// calm returns where two stretches are joined: near the beat middle, as far as
// possible from whatever happened in either.
func calm(a, b *line, middle int) int {
	best, top := middle, -1
	for j := middle - margin/4; j < middle+margin/4; j++ {
		clear := min(a.clear(j), b.clear(j), quiet)
		if clear > top || clear == top && max(j-middle, middle-j) < max(best-middle, middle-best) {
			best, top = j, clear
		}
	}
	return best
}

// add takes the beats from one to another from a stretch.
func (t *teller) add(l *line, from, to int) {
	for j := from - l.start; j < to-l.start; j++ {
		if l.out[j] {
			t.Outliers = append(t.Outliers, l.first+l.index[j])
		}
		if l.step[j] {
			size, variance := l.leap(j)
			t.Steps = append(t.Steps, Step{
				Beat: l.first + l.index[j], Shift: size * l.unit, SE: math.Sqrt(variance) * l.unit,
				LogOdds: l.leapGain(j),
			})
		}
		side := l.side[j]
		t.count[side]++
		t.sum[side] += l.blocks[j/stride].sigma2[side] * l.unit * l.unit
		t.uneven += l.teeth[j] * l.teeth[j] * l.unit * l.unit
	}
	for _, b := range l.blocks {
		t.memory = append(t.memory, b.memory)
	}
}

// finish returns the story with the figures of the whole of it.
func (t *teller) finish() *Story {
	for i, n := range t.count {
		t.Scatter[i] = math.Sqrt(t.sum[i] / n)
	}
	if n := t.count[0] + t.count[1]; n > 0 {
		t.Uneven = math.Sqrt(t.uneven / n)
		t.memories = append([]float64{}, t.memory...)
		t.Memory = median(t.memory)
	}
	return t.Story
}
