package beat

import (
	"math"
	"slices"
)

// folded is the clearest lag that a search by folding found.
type folded struct {
	lag float64 // blocks
	z   float64 // standard deviations by which the folded peak stands out
}

// searchFolds folds s at every lag from one beat of the fastest movement to two
// of the slowest, and returns the lag at which the mean stands out most. Where
// the autocorrelation compares beats by twos, this adds up all of them, and so
// hears beats that are far deeper in the noise; but it takes longer, and many
// beats.
//
// The folds are those of the fast folding algorithm (D. H. Staelin, Proc. IEEE
// 57, 1969, 724): for an integer base period it shares the sums of neighbouring
// rows among all periods up to the next integer. The resolution is two blocks up
// to some 600, and halves with each octave from there.
func searchFolds(s []float32, perSecond float64) folded {
	const base = 160
	var best folded
	from := int(shortestPeriod / 4 * perSecond)
	x := pool(slices.Clone(s))
	var f folder
	for scale := 2.0; scale*base < longestPeriod*perSecond; scale *= 2 {
		sd := temper(x)
		if sd == 0 {
			return best
		}
		for p := from; p < 2*base && float64(p)*scale < longestPeriod*perSecond; p++ {
			rows := len(x) / p
			if rows < 12 {
				break
			}
			period, sum := f.fold(x, p)
			if z := sum / (sd * math.Sqrt(float64(rows))); z > best.z {
				best = folded{period * scale, z}
			}
		}
		from = base
		x = pool(x)
	}
	return best
}

// pool replaces x by the maxima of pairs, half as many.
func pool(x []float32) []float32 {
	for i := range len(x) / 2 {
		x[i] = max(x[2*i], x[2*i+1])
	}
	return x[:len(x)/2]
}

// folder folds; it keeps its memory from one fold to the next.
type folder struct{ a, b []float32 }

// fold folds x at all periods from p to p+1 and returns the one with the
// greatest sum in one place, and that sum.
func (f *folder) fold(x []float32, p int) (period, most float64) {
	a, m := f.sums(x, p)
	top, row := float32(0), 0
	for i := range m {
		for _, v := range a[i*p:][:p] {
			if v > top {
				top, row = v, i
			}
		}
	}
	return float64(p) + float64(row)/float64(max(1, m-1)), float64(top)
}

// sums returns x folded at m periods evenly from p to p+1: p sums for each.
func (f *folder) sums(x []float32, p int) (sums []float32, m int) {
	rows := len(x) / p
	m = 1
	for m < rows {
		m *= 2
	}
	if len(f.a) < m*p {
		f.a, f.b = make([]float32, m*p), make([]float32, m*p)
	}
	a, b := f.a[:m*p], f.b[:m*p]
	copy(a, x[:rows*p])
	clear(a[rows*p:])
	for size := 1; size < m; size *= 2 {
		for group := 0; group < m; group += 2 * size {
			// Beyond the last row, all is zero.
			if group >= rows {
				clear(b[group*p:][:2*size*p])
				continue
			}
			for j := range 2 * size {
				head := a[(group+j/2)*p:][:p]
				tail := a[(group+size+j/2)*p:][:p]
				out := b[(group+j)*p:][:p]
				shift := (j + 1) / 2 % p
				add(out, head, tail[shift:])
				add(out[p-shift:], head[p-shift:], tail[:shift])
			}
		}
		a, b = b, a
	}
	return a, m
}

// add sets out to the sums of a and b, as many as b holds.
func add(out, a, b []float32) {
	out, a = out[:len(b)], a[:len(b)]
	for i, v := range b {
		out[i] = a[i] + v
	}
}

// temper takes the mean out of x and cuts off what is beyond three standard
// deviations, so that no few loud sounds make a fold stand out. It returns the
// standard deviation of the rest.
func temper(x []float32) float64 {
	centre(x)
	most := float32(3 * deviation(x))
	for i, v := range x {
		x[i] = min(v, most)
	}
	centre(x)
	return deviation(x)
}

func centre(x []float32) {
	var sum float64
	for _, v := range x {
		sum += float64(v)
	}
	mean := float32(sum / float64(max(1, len(x))))
	for i := range x {
		x[i] -= mean
	}
}

func deviation(x []float32) float64 {
	var sum float64
	for _, v := range x {
		sum += float64(v) * float64(v)
	}
	return math.Sqrt(sum / float64(max(1, len(x))))
}
