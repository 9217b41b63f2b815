package rate

import "math"

// leastBand is the fewest windows that make a stable band.
const leastBand = 3

// StableBand returns the longest stretch of consecutive windows whose smoothed
// rate (see Smooth) stays within tolerance, a total width in s/day; of two as
// long, the steadier. A window that a stop touches, one in which fewer than
// half of the beats were heard, and one without a rate end a stretch; a
// shorter window at the end is left out. It reports false where fewer than
// three windows would be left. It is O(n). It panics where tolerance is
// negative.
func StableBand(ws []Window, tolerance float64) (Band, bool) {
	if !(tolerance >= 0) {
		panic("rate: negative tolerance")
	}
	ws = whole(ws)
	var best Band
	var high, low extreme
	first := 0
	for i := range ws {
		if !steady(&ws[i]) {
			high, low, first = high[:0], low[:0], i+1
			continue
		}
		x := ws[i].Smoothed.X
		high, low = high.push(i, x), low.push(i, -x)
		for high[0].x+low[0].x > tolerance {
			first++
			high, low = high.from(first), low.from(first)
		}
		spread := high[0].x + low[0].x
		n, longest := i+1-first, best.Last-best.First
		if n > longest || n == longest && spread < best.Spread {
			best = Band{First: first, Last: i + 1, Spread: spread}
		}
	}
	if best.Last-best.First < leastBand {
		return Band{}, false
	}
	in := ws[best.First:best.Last]
	best.Start, best.End = in[0].Start, in[len(in)-1].End
	best.Mean = mean(in)
	return best, true
}

// whole leaves out the last window where it is shorter than the others.
func whole(ws []Window) []Window {
	if n := len(ws); n > 1 && ws[n-1].End-ws[n-1].Start < 0.999*(ws[0].End-ws[0].Start) {
		return ws[:n-1]
	}
	return ws
}

// TooShort reports that fewer whole windows have a rate than make a stable band:
// nothing can be said of how steady it is.
func TooShort(ws []Window) bool {
	n := 0
	for _, w := range whole(ws) {
		if !math.IsNaN(w.Rate.X) {
			n++
		}
	}
	return n < leastBand
}

// steady reports that a window may be part of a band.
func steady(w *Window) bool {
	return w.Heard > 0 && 2*w.Heard >= w.Beats && !w.Stopped && !math.IsNaN(w.Smoothed.X)
}

// mean returns the mean of the smoothed rates; its error is that of the
// unsmoothed ones.
func mean(ws []Window) Value {
	var sum, variance float64
	for i := range ws {
		sum += ws[i].Smoothed.X
		variance += ws[i].Rate.SE * ws[i].Rate.SE
	}
	n := float64(len(ws))
	return Value{sum / n, math.Sqrt(variance) / n}
}

// extreme is a queue that knows the greatest of what is in it: figures in order
// of arrival, each greater than all after it.
type extreme []struct {
	i int
	x float64
}

// push adds a figure, and drops those that it outdoes for good.
func (e extreme) push(i int, x float64) extreme {
	for len(e) > 0 && e[len(e)-1].x <= x {
		e = e[:len(e)-1]
	}
	return append(e, struct {
		i int
		x float64
	}{i, x})
}

// from drops the figures before number first.
func (e extreme) from(first int) extreme {
	for len(e) > 0 && e[0].i < first {
		e = e[1:]
	}
	return e
}
