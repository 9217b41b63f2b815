package fault

import "math"

// aroundMean calls f with every beat heard, counted from the first one, and its
// deviation in seconds from the mean over the period around it. whole tells
// whether that period lies within the run. Beats next to a displacement are left
// out.
func (r *run) aroundMean(period float64, f func(i int, d float64, whole bool)) {
	w := newMovingMean(&r.fine, period)
	next := 0
	for i := range r.fine.n {
		mean := w.advance()
		if next < len(r.cuts) && r.cuts[next] == i {
			next++
			continue
		}
		if v := r.fine.at(i); !math.IsNaN(v) {
			f(i, v-mean, i >= w.half && i+w.half < r.fine.n)
		}
	}
}

// movingMean is the mean of the values around each value of a series in turn.
// The window is one period long: the values at its ends count in part.
type movingMean struct {
	s     *series
	half  int     // whole steps from the middle to either end
	ends  float64 // weight of the end values
	i     int     // next middle
	sum   float64 // of the values strictly within the window
	count int
}

func newMovingMean(s *series, period float64) *movingMean {
	half := int(math.Ceil((period - 1) / 2))
	w := &movingMean{s: s, half: half, ends: (period - float64(2*half-1)) / 2}
	for i := range min(half-1, s.n) {
		w.add(i, 1)
	}
	return w
}

// add adds value i to the window with sign 1, or removes it with -1.
func (w *movingMean) add(i, sign int) {
	if i < 0 || i >= w.s.n {
		return
	}
	if v := w.s.at(i); !math.IsNaN(v) {
		w.sum += float64(sign) * v
		w.count += sign
	}
}

// advance returns the mean around the next value, 0 where the window is empty.
func (w *movingMean) advance() float64 {
	w.add(w.i+w.half-1, 1)
	w.add(w.i-w.half, -1)
	sum, weight := w.sum, float64(w.count)
	for _, i := range [2]int{w.i - w.half, w.i + w.half} {
		if i < 0 || i >= w.s.n {
			continue
		}
		if v := w.s.at(i); !math.IsNaN(v) {
			sum += w.ends * v
			weight += w.ends
		}
	}
	w.i++
	if weight == 0 {
		return 0
	}
	return sum / weight
}
