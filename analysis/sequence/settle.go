package sequence

import "slices"

const (
	reach   = 12  // beats beside what looks wrong that are looked at with it
	longest = 192 // beats that are settled at once
	rounds  = 8   // sweeps over a stretch in search of what is wrong
)

// search mends the story until nothing in it looks wrong: sweeps show where it
// does, and settle mends it there.
func (l *line) search() {
	n := len(l.y)
	for range rounds {
		l.sweep(0, n-1)
		changed, at := false, 0 // fore is right up to at
		for j := 1; j < n; j++ {
			if !l.wrong(j) {
				continue
			}
			a := max(j-reach, 0)
			b := j
			for i := j + 1; i < n && i <= b+2*reach && i < a+longest; i++ {
				if l.wrong(i) {
					b = i
				}
			}
			b = min(b+reach, n-1)
			if changed {
				l.forwards(at, a)
			}
			if l.settle(a, b) {
				changed = true
			}
			at = a
			j = b
		}
		if !changed {
			return
		}
	}
	l.sweep(0, n-1)
}

// wrong tells whether anything at beat j could be changed for the better.
func (l *line) wrong(j int) bool {
	const loud = 6 // square of an innovation, by which a beat may be displaced alone: one in 70 without
	if l.leapGain(j) > 0 != l.step[j] {
		return true
	}
	return l.out[j] && l.aloneGain(j) < 0 || !l.out[j] && l.score[j] > loud && l.aloneGain(j) > 0
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

// settle mends the story from beat a to beat b, one change at a time, always the
// one that gains most; and where none gains, sees of everything that happened
// there whether something else in its place would be more probable. It tells
// whether anything changed.
func (l *line) settle(a, b int) bool {
	changed := false
	for range 2 * (b - a + 1) {
		l.sweep(a, b)
		if c := l.best(a, b, false); c.gain > 1e-6 {
			c.make()
			changed = true
			continue
		}
		if !l.exchange(a, b) {
			l.sweep(a, b)
			break
		}
		changed = true
	}
	return changed
}

// exchange replaces one thing that happened between a and b by a more probable
// one, if there is one.
func (l *line) exchange(a, b int) bool {
	for j := a; j <= b; j++ {
		for _, of := range [][]bool{l.step, l.out} {
			if !of[j] {
				continue
			}
			of[j] = false
			l.sweep(a, b)
			own := l.leapGain
			if &of[0] == &l.out[0] {
				own = l.aloneGain
			}
			if c := l.best(a, b, true); c.gain > own(j)+1e-6 {
				c.make()
				return true
			}
			of[j] = true
		}
	}
	return false
}

// clone returns what happened.
func (l *line) clone() (step, out []bool) { return slices.Clone(l.step), slices.Clone(l.out) }
