package sequence

import (
	"cmp"
	"math"
	"slices"

	"gonum.org/v1/gonum/floats"
)

// memories are the numbers of beats over which the course may bend little, about,
// from the fewest.
var memories = [...]float64{3, 8, 24, 72, 216}

// tell finds the story of the line.
func (l *line) tell() {
	l.learn()
	l.estimateScatter()
	l.climb()
	l.stroll()
	if l.period > 0 || slices.Contains(l.step, true) {
		l.learn()
		l.refine()
	}
	if p := l.stepsComeRound(); p > 0 { // surer than what little the teeth are uneven
		l.period = p
	}
	if l.period > 0 {
		l.comeRound()
		for range 2 { // the story and the teeth depend on each other
			l.fitTeeth()
			l.refine()
		}
		l.fitTeeth()
		for range several {
			if !l.tellApart() {
				break
			}
		}
	}
	if slices.Contains(l.step, true) {
		l.doubtLeaps()
	}
}

// doubtLeaps lets steps cost more where the leaps that are found at beats where
// nothing happened are larger than their errors say, as where the course comes
// and goes: the null hypothesis is what most of them show (B. Efron, JASA 99,
// 2004).
func (l *line) doubtLeaps() {
	var z []float64
	for j := 1; j < len(l.y); j++ {
		if !l.step[j] {
			size, variance := l.leap(j)
			z = append(z, size/math.Sqrt(variance))
		}
	}
	if s := mad(z, 0); s > 1 {
		l.price *= s * s
		l.search()
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

// walks are the variances by which the phase may walk at random, in parts of the
// scatter's: no oscillator's period is quite the same twice, and what one beat
// gains stays gained.
var walks = [...]float64{0.002, 0.02, 0.2, 2}

// stroll tells the story again with a phase that walks more and more, as long as
// it gets more probable. Where the memory is long, it does not, and where it does,
// the memory is long once that is allowed for: else it is something else.
func (l *line) stroll() {
	if !l.short() {
		return
	}
	first, best := l.keep(), l.keep()
	for _, w := range walks {
		before := l.total()
		l.walk = w
		clear(l.step)
		clear(l.out)
		l.climb()
		if l.total() > before {
			break
		}
		if best = l.keep(); !l.short() {
			return
		}
	}
	if l.restore(best); l.short() {
		l.restore(first)
	}
	l.weigh()
	l.search()
}

// comeRound sees whether steps come at the place of the turn at which most are in all
// turns that follow each other without one. Where small ones are dense, each is seen only
// once the others are: a rate that bends takes the place of all.
func (l *line) comeRound() {
	gaps := l.gaps()
	if len(gaps) == 0 {
		return
	}
	before, first := l.total(), l.keep()
	for _, j := range gaps {
		l.step[j] = true
		l.blocks[j/stride].memory = memories[len(memories)-1]
	}
	l.weigh()
	l.search()
	if l.total() >= before {
		l.restore(first)
		l.weigh()
		l.search()
	}
}

// several is from how many turns on something comes round.
const several = 3

// about is by how many beats a step may seem to be elsewhere in noise.
const about = 2

// stepsByPlace returns how many steps there are at each place of the turn.
func (l *line) stepsByPlace() []int {
	count := make([]int, l.period)
	for j, is := range l.step {
		if is {
			count[l.index[j]%l.period]++
		}
	}
	return count
}

// placeOfSteps returns the place of the turn at which most steps are; false where there
// are few of them.
func (l *line) placeOfSteps() (place int64, ok bool) {
	count := l.stepsByPlace()
	place = int64(slices.Index(count, slices.Max(count)))
	return place, count[place] >= several
}

// placesOfSteps returns the places of the turn about which most steps are, that with most of them
// first; none where there are few.
func (l *line) placesOfSteps() []int64 {
	count := l.stepsByPlace()
	var best []int64
	greatest := several - 1
	for p := range l.period {
		var places []int64
		sum := 0
		for d := int64(-about); d <= about; d++ {
			q := (p + d + l.period) % l.period
			if sum += count[q]; count[q] > 0 {
				places = append(places, q)
			}
		}
		if sum > greatest {
			greatest, best = sum, places
		}
	}
	slices.SortStableFunc(best, func(p, q int64) int { return cmp.Compare(count[q], count[p]) })
	return best
}

// gaps returns the beats at the place of the turn at which most steps are, in turns that
// follow each other without one, several in a row; none where there are few steps.
func (l *line) gaps() []int {
	place, ok := l.placeOfSteps()
	if !ok {
		return nil
	}
	var gap, gaps []int
	for j, at := range l.index {
		switch {
		case j == 0 || at%l.period != place:
		case l.step[j]:
			gap = gap[:0]
		default:
			if gap = append(gap, j); len(gap) == several {
				gaps = append(gaps, gap...)
			} else if len(gap) > several {
				gaps = append(gaps, j)
			}
		}
	}
	return gaps
}

// tellApart tells the turns in which the movement hesitates at a tooth from those in which
// it does not, and reports whether that changed the story. Teeth that make a saw look like
// a step in every turn, so that all turns may seem to have one, of two sizes, or the
// others one that is early: the story with steps in the turns of the later ones alone is
// told as well, and the more probable one holds.
func (l *line) tellApart() bool {
	return slices.ContainsFunc(l.placesOfSteps(), l.tellApartAt)
}

// tellApartAt is tellApart for the tooth at a place of the turn. What bent there may have been the
// steps, so the course is told with the memory that it has, and with a long one.
func (l *line) tellApartAt(place int64) bool {
	turns, later := l.turnsApart(place)
	changes := false
	for i, j := range turns {
		changes = changes || l.step[j] != (i >= later)
	}
	if !changes {
		return false
	}
	before, first := l.total()+l.gained(place), l.keep()
	settle := func() {
		l.weigh()
		l.fitTeeth()
		l.refine()
		l.fitTeeth()
	}
	for _, bends := range []bool{true, false} {
		for i, j := range turns {
			if l.step[j] = i >= later; !bends {
				l.blocks[j/stride].memory = memories[len(memories)-1]
			}
		}
		if settle(); l.total()+l.gained(place) < before && !l.saws() {
			return true
		}
		l.restore(first)
	}
	settle()
	return false
}

// turnsApart returns the beats at a place of the turn in order of how late they come, and from which
// of them on they are the later ones: where they lie farthest apart, several on either side. There
// are none where they are no two kinds.
func (l *line) turnsApart(place int64) (turns []int, later int) {
	size := map[int]float64{}
	for j, at := range l.index {
		if j > 0 && at%l.period == place {
			turns = append(turns, j)
			size[j], _ = l.leap(j)
		}
	}
	slices.SortFunc(turns, func(a, b int) int { return cmp.Compare(size[a], size[b]) })
	widest := 0.
	for i := several; i <= len(turns)-several; i++ {
		if gap := size[turns[i]] - size[turns[i-1]]; gap > widest {
			later, widest = i, gap
		}
	}
	if later == 0 {
		return nil, 0
	}
	var sizes []float64
	for _, j := range turns {
		sizes = append(sizes, size[j])
	}
	const plain = 4 // standard deviations, which no end of one kind is from the rest of it
	low, high := median(slices.Clone(sizes[:later])), median(slices.Clone(sizes[later:]))
	scatter := mad(sizes[:later], low)
	if 2*later < len(sizes) { // few tell little of it
		scatter = mad(sizes[later:], high)
	}
	if high-low < plain*scatter {
		return nil, 0
	}
	return turns, later
}

// gained is what the steps about a place of the turn cost besides their prices: those that are
// early, more, for at a tooth, an escapement loses time, and gains none (common practice). That
// steps come round there is known; to tell which turns have one costs as much as to tell
// which have none, so the price of each is taken off.
func (l *line) gained(place int64) float64 {
	const never = 6 // prices of a step
	sum := 0.
	for j, is := range l.step {
		if off := ((l.index[j]-place)%l.period + l.period) % l.period; !is || min(off, l.period-off) > about {
			continue
		}
		if sum -= l.price; l.early(j) {
			sum += never * l.price
		}
	}
	return sum
}

// early reports whether beats come sooner from beat j on.
func (l *line) early(j int) bool {
	size, _ := l.leap(j)
	return size < 0
}

// short tells whether the memory is short in most blocks.
func (l *line) short() bool {
	const long = 72
	n := 0
	for _, b := range l.blocks {
		if b.memory < long {
			n++
		}
	}
	return 2*n >= len(l.blocks)
}

// total is the negative logarithm of the story's probability.
func (l *line) total() float64 {
	costs := make([]float64, len(l.blocks))
	l.costs(costs)
	return floats.Sum(costs)
}

// telling is a story of a line that may be told again.
type telling struct {
	blocks    []block
	step, out []bool
	walk      float64
}

func (l *line) keep() telling {
	return telling{slices.Clone(l.blocks), slices.Clone(l.step), slices.Clone(l.out), l.walk}
}

func (l *line) restore(t telling) {
	copy(l.blocks, t.blocks)
	copy(l.step, t.step)
	copy(l.out, t.out)
	l.walk = t.walk
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
