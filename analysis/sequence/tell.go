package sequence

import (
	"math"

	"gonum.org/v1/gonum/mat"
)

const (
	core        = 6144 // beats heard that a stretch adds to the story, or more
	margin      = 1024 // beats heard that it sees on either side of them
	fewestBeats = 8    // heard, of which a story can be told
	quiet       = 24   // beats without anything, where two stretches are joined best
)

// Tell returns the most probable story of beats in order of Index.
func Tell(beats []Beat) *Story {
	t := NewTeller()
	t.Append(beats)
	return t.Flush()
}

// Teller tells the story of beats as they come, some ten thousand behind.
type Teller struct {
	story  Story
	run    []Beat // beats heard since the last standstill or cut that are still of use
	first  int    // how many there were before them
	edge   int    // likewise, before those that the last stretch did not add
	last   *line  // the last stretch
	told   int    // likewise, before those that are not in the story yet
	end    int64  // Index before which the story is told
	count  [2]float64
	square [2]float64 // sum of squares of the scatter of each beat
	own    [2]float64 // the same, without what the sound leaves
	uneven float64    // sum of squares of what comes round
	memory []float64  // of each block
}

// NewTeller returns a teller that has heard nothing yet.
func NewTeller() *Teller { return &Teller{end: math.MinInt64} }

// Append takes in beats in order of Index. Those whose Time is not a number, or
// whose Index does not come after the one before, are left out.
func (t *Teller) Append(beats []Beat) {
	for _, b := range beats {
		if b.Fresh {
			t.finishRun()
		}
		n := len(t.run)
		if !b.Heard || math.IsNaN(b.Time-b.Time) || n > 0 && b.Index <= t.run[n-1].Index {
			continue
		}
		t.run = append(t.run, b)
		if t.first+n+1 == t.edge+2*core+margin {
			t.stretch(t.edge + core)
		}
	}
}

// Story returns what has been told so far, and the Index before which that is
// all there is to tell. Its figures are those of that part; the slices must not
// be changed, and hold until the next call of Append.
func (t *Teller) Story() (story Story, before int64) {
	s := t.story
	for i, n := range t.count {
		s.Scatter[i] = math.Sqrt(t.square[i] / n)
		s.Own[i] = math.Sqrt(t.own[i] / n)
	}
	if n := t.count[0] + t.count[1]; n > 0 {
		s.Uneven = math.Sqrt(t.uneven / n)
		s.Memory = median(append([]float64(nil), t.memory...))
	}
	return s, t.end
}

// Flush tells the rest of the story and returns all of it. The teller is of no
// use after that.
func (t *Teller) Flush() *Story {
	t.finishRun()
	s, _ := t.Story()
	return &s
}

// finishRun tells the rest of what can be told before a standstill or a cut.
func (t *Teller) finishRun() {
	if end := t.first + len(t.run); len(t.run) >= fewestBeats {
		t.stretch(end)
		t.add(end)
		t.end = t.run[len(t.run)-1].Index + 1
	}
	t.run, t.first, t.edge, t.last, t.told = t.run[:0], 0, 0, nil, 0
}

// stretch tells the story of a stretch that adds the beats up to before to, and
// joins it to the one before.
func (t *Teller) stretch(to int) {
	from := max(t.edge-margin, 0)
	l := newLine(t.run[from-t.first : min(to+margin-t.first, len(t.run))])
	l.start = from
	l.tell()
	if t.last != nil {
		t.add(calm(t.last, l, t.edge))
	}
	t.last, t.edge = l, to
	keep := max(to-margin, 0) - t.first
	t.run = t.run[:copy(t.run, t.run[keep:])]
	t.first += keep
}

// calm returns where two stretches are joined: near the beat middle, as far as
// possible from whatever happened in either.
func calm(a, b *line, middle int) int {
	best, top := middle, -1
	for d := range margin / 4 {
		for _, j := range [2]int{middle - d, middle + d} {
			if c := min(a.calm(j), b.calm(j)); c > top {
				best, top = j, c
			}
		}
	}
	return best
}

// calm returns how many beats the beat j of the run is from whatever happened,
// up to quiet.
func (l *line) calm(j int) int {
	j -= l.start
	for d := range quiet {
		for _, i := range [2]int{j - d - 1, j + d} {
			if i >= 0 && i < len(l.step) && (l.step[i] || l.out[i]) {
				return d
			}
		}
	}
	return quiet
}

// add adds the beats before to, as the last stretch tells of them.
func (t *Teller) add(to int) {
	l := t.last
	if len(l.shape) > 0 && to > t.told {
		t.story.Turns = append(t.story.Turns, l.turn(t.told-l.start))
	}
	for j := t.told - l.start; j < to-l.start; j++ {
		index, b := l.first+l.index[j], l.blocks[j/stride]
		if l.out[j] {
			t.story.Outliers = append(t.story.Outliers, index)
		}
		if l.step[j] {
			if s := l.told(j); s.LogOdds > 0 {
				t.story.Steps = append(t.story.Steps, s)
			}
		}
		if j%stride == 0 {
			t.memory = append(t.memory, b.memory)
		}
		t.count[l.side[j]]++
		t.square[l.side[j]] += l.v[j] * l.unit * l.unit
		t.own[l.side[j]] += b.own[l.side[j]] * l.unit * l.unit
		t.uneven += l.teeth[j] * l.teeth[j] * l.unit * l.unit
		t.end = index + 1
	}
	t.told = to
}

// told returns the step at beat j.
func (l *line) told(j int) Step {
	size, variance := l.leap(j)
	if l.cov != nil {
		variance += rise(l.cov, int(l.index[j]%l.period))
	}
	return Step{
		Beat: l.first + l.index[j], Shift: size * l.unit, SE: math.Sqrt(variance) * l.unit,
		LogOdds: size*size/variance/2 - l.price,
	}
}

// turn returns what comes round from beat j on.
func (l *line) turn(j int) Turn {
	t := Turn{From: l.first + l.index[j], Origin: l.first, Shape: make([]float64, len(l.shape)), Cov: mat.NewSymDense(len(l.shape), nil)}
	for i, v := range l.shape {
		t.Shape[i] = v * l.unit
	}
	t.Cov.ScaleSym(l.unit*l.unit, l.cov)
	return t
}
