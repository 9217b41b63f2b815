package beat

import "slices"

// running is a median of the latest values.
type running struct {
	recent [31]float64
	n      int
}

func (r *running) add(v float64) {
	r.recent[r.n%len(r.recent)] = v
	r.n++
}

// median returns the middle of the latest values, 0 before the first.
func (r *running) median() float64 {
	n := min(r.n, len(r.recent))
	if n == 0 {
		return 0
	}
	sorted := r.recent
	slices.Sort(sorted[:n])
	return sorted[n/2]
}
