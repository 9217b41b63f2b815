package beat

import "slices"

// running is a median of the latest values.
type running struct {
	recent [31]float64
	sorted [31]float64 // the same, in order
	n      int
}

func (r *running) add(v float64) {
	held := min(r.n, len(r.recent))
	if held == len(r.recent) {
		old, _ := slices.BinarySearch(r.sorted[:], r.recent[r.n%held])
		copy(r.sorted[old:], r.sorted[old+1:])
		held--
	}
	at, _ := slices.BinarySearch(r.sorted[:held], v)
	copy(r.sorted[at+1:held+1], r.sorted[at:held])
	r.sorted[at] = v
	r.recent[r.n%len(r.recent)] = v
	r.n++
}

// latest returns the value added last, 0 before the first.
func (r *running) latest() float64 { return r.recent[max(0, r.n-1)%len(r.recent)] }

// median returns the middle of the latest values, 0 before the first.
func (r *running) median() float64 {
	n := min(r.n, len(r.recent))
	if n == 0 {
		return 0
	}
	return r.sorted[n/2]
}

// surprised reports whether a value lies out of the range of the latest ones, of which there are
// enough, by more than a quarter of it: of normal values, 0.7 % do after 31, and 3 % after 15.
func (r *running) surprised(v float64) bool {
	n := min(r.n, len(r.recent))
	if n < len(r.recent)/2 {
		return false
	}
	least, most := r.sorted[0], r.sorted[n-1]
	beyond := (most - least) / 4
	return v < least-beyond || v > most+beyond
}
