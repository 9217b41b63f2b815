package sequence

import "math"

const (
	// mostTried is how often each beat is gone through, in the mean, in search of what else
	// may have happened. Seven movements of the bench with many hesitations took 13 at the
	// most, and beats that were put together at random more than ten thousand.
	mostTried = 2000

	reach   = 12   // beats beside what looks wrong that are looked at with it
	longest = 192  // beats that are settled at once
	rounds  = 8    // sweeps over a stretch in search of what is wrong
	far     = 6    // beats from a step where it may rather be
	least   = 1e-6 // gain for which the story is changed
)

// search mends the story until nothing in it looks wrong.
func (l *line) search() {
	for range rounds {
		l.look()
		if !l.mend() {
			return
		}
	}
	l.sweep(0, len(l.y)-1)
}

// look sweeps over the whole stretch and marks the beats at which something could
// be changed for the better.
func (l *line) look() {
	const loud = 6 // square of an innovation, by which a beat may be displaced alone: one in 70 without
	l.sweep(0, len(l.y)-1)
	for j := range l.wrong {
		l.wrong[j] = j > 0 && l.leapGain(j) > 0 != l.step[j] ||
			l.out[j] && (l.aloneGain(j) < 0 || l.beside(j)) || l.score[j] > loud && l.aloneGain(j) > 0
	}
}

// beside tells whether beat j, displaced alone, is next to others that are, or to
// a step: which of them is which takes more than one change to tell.
func (l *line) beside(j int) bool {
	n := len(l.y)
	return l.step[j] || j > 1 && l.out[j-1] && l.out[j-2] || j+1 < n && l.step[j+1] || j+2 < n && l.out[j+1] && l.out[j+2]
}

// mend changes the story wherever it looks wrong, and tells whether it did.
func (l *line) mend() bool {
	n, changed := len(l.y), false
	at := 0 // up to here, fore is as the story says
	for j := 0; j < n; j++ {
		if !l.wrong[j] {
			continue
		}
		a, b := max(j-reach, 0), j
		for i := j + 1; i < n && i <= b+2*reach && i < a+longest; i++ {
			if l.wrong[i] {
				b = i
			}
		}
		b = min(b+reach, n-1)
		if changed {
			l.forwards(at, a)
		}
		changed = l.improve(a, b) || changed
		at, j = a, b
	}
	return changed
}

// change is a change of the story at one beat.
type change struct {
	beat int
	of   []bool // step or out
	gain float64
}

func (c change) make() { c.of[c.beat] = !c.of[c.beat] }

// best returns the change between beats a and b that gains most, after a sweep
// there; the first one of equals. With add, only additions count.
func (l *line) best(a, b int, add bool) change {
	top := change{}
	for j := max(a, 1); j <= b; j++ {
		g := l.leapGain(j)
		if l.step[j] {
			g = -g
			if add {
				g = 0
			}
		}
		if g > top.gain {
			top = change{j, l.step, g}
		}
	}
	for j := a; j <= b; j++ {
		g := l.aloneGain(j)
		if l.out[j] {
			g = -g
			if add {
				g = 0
			}
		}
		if g > top.gain {
			top = change{j, l.out, g}
		}
	}
	return top
}

// improve mends the story from beat a to beat b, one change at a time, always the
// one that gains most; and where none gains, sees whether something else in the
// place of what happened there would be more probable. It tells whether anything
// changed.
func (l *line) improve(a, b int) bool {
	changed := false
	for range 2 * (b - a + 1) {
		l.sweep(a, b)
		if c := l.best(a, b, false); c.gain > least {
			c.make()
		} else if !l.exchange(a, b) {
			l.sweep(a, b)
			break
		}
		changed = true
	}
	return changed
}

// exchange replaces things that happened between a and b by more probable ones,
// if there are any, and tells whether it did.
func (l *line) exchange(a, b int) bool {
	happened := 0
	for j := a; j <= b; j++ {
		if l.step[j] || l.out[j] && (j == a || !l.out[j-1]) {
			happened++
		}
	}
	if happened > max((b-a)/4, reach) || l.tried > mostTried*len(l.y) { // whatever this is, it is no movement
		return false
	}
	now := l.value(a, b)
	for j := a; j <= b; j++ {
		if l.step[j] && (l.replace(a, b, j, l.step) || l.slide(a, b, j, now) || l.dissolve(a, b, j, now) || l.merge(a, b, j, now)) {
			return true
		}
		if l.out[j] && (l.replace(a, b, j, l.out) || l.gather(a, b, j, now)) {
			return true
		}
	}
	return false
}

// replace sees whether one thing that happened at beat j was another.
func (l *line) replace(a, b, j int, of []bool) bool {
	of[j] = false
	l.sweep(a, b)
	own := l.leapGain
	if &of[0] == &l.out[0] {
		own = l.aloneGain
	}
	if c := l.best(a, b, true); c.gain > own(j)+least {
		c.make()
		return true
	}
	of[j] = true
	return false
}

// slide sees whether the step at beat j is rather at another one, and of the
// beats between the farthest, those displaced alone, or all are rather the other
// way about.
func (l *line) slide(a, b, j int, now float64) bool {
	lo, hi := max(j-far, a+1), min(j+far, b)
	for lo > a+1 && l.out[lo] {
		lo--
	}
	for hi < b && l.out[hi] {
		hi++
	}
	for i := lo; i <= hi; i++ {
		if i == j || l.step[i] {
			continue
		}
		from, to, farthest := j, i, i-1
		if i < j {
			from, to, farthest = i, j, i
		}
		move := []change{{beat: j, of: l.step}, {beat: i, of: l.step}}
		var alone, all []change
		for k := from; k < to; k++ {
			c := change{beat: k, of: l.out}
			all = append(all, c)
			if l.out[k] {
				alone = append(alone, c)
			}
		}
		if len(alone) == 0 {
			continue
		}
		for _, set := range [][]change{{{beat: farthest, of: l.out}}, alone, all} {
			if l.try(a, b, now, append(move, set...)) {
				return true
			}
		}
	}
	return false
}

// dissolve sees whether the step at beat j and one soon after it are rather
// beats displaced alone.
func (l *line) dissolve(a, b, j int, now float64) bool {
	set := []change{{beat: j, of: l.step}}
	for k := j; k < min(j+far, b); k++ {
		if !l.out[k] {
			set = append(set, change{beat: k, of: l.out})
		}
		if l.step[k+1] {
			return l.try(a, b, now, append(set, change{beat: k + 1, of: l.step}))
		}
	}
	return false
}

// merge sees whether the step at beat j and one in the next few beats, the same way, are
// one, and the beats between them rather marked a period of their ringing away.
func (l *line) merge(a, b, j int, now float64) bool {
	l.sweep(a, b)
	first, _ := l.leap(j)
	var set []change
	for k := j + 1; k <= min(j+followed, b); k++ {
		if !l.out[k-1] {
			set = append(set, change{beat: k - 1, of: l.out})
		}
		if !l.rung[k-1] {
			set = append(set, change{beat: k - 1, of: l.rung})
		}
		if l.step[k] {
			second, _ := l.leap(k)
			by := math.Min(math.Abs(first), math.Abs(second))
			rings := by*l.unit < ringing && by < 2*math.Pi*unclear*l.se[j]
			return rings && first*second > 0 && l.try(a, b, now, append(set, change{beat: k, of: l.step}))
		}
	}
	return false
}

// gather sees whether the beats from j on that are displaced alone are rather
// displaced together.
func (l *line) gather(a, b, j int, now float64) bool {
	if j <= a || l.out[j-1] || l.step[j] {
		return false
	}
	set := []change{{beat: j, of: l.step}}
	k := j
	for ; k < b && l.out[k]; k++ {
		set = append(set, change{beat: k, of: l.out})
	}
	if k-j < 3 || l.step[k] {
		return false
	}
	return l.try(a, b, now, append(set, change{beat: k, of: l.step}))
}

// try makes changes, and takes them back unless the story between a and b is
// then better than now.
func (l *line) try(a, b int, now float64, set []change) bool {
	for _, c := range set {
		c.make()
	}
	if l.value(a, b) < now-least {
		return true
	}
	for _, c := range set {
		c.make()
	}
	return false
}

// value returns the negative logarithm of the story's probability between beats
// a and b, given those before and after.
func (l *line) value(a, b int) float64 {
	l.tried += b - a + 1
	l.forwards(a, b)
	sum := 0.
	for j := a; j <= b; j++ {
		sum += l.costOf(j, 1)
	}
	if b+1 < len(l.y) {
		f := l.fore[b+1]
		if l.step[b+1] {
			f.p00 += unknown
		}
		sum += apart(&f, &l.back[b+1])
	}
	return sum
}
