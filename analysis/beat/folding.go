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
// to some 300, and halves with each octave from there.
func searchFolds(s []float32, perSecond float64) folded {
	const base = 80
	var best folded
	from := int(shortestPeriod / 4 * perSecond)
	x := pool(slices.Clone(s))
	for scale := 2.0; scale*base < longestPeriod*perSecond; scale *= 2 {
		centre(x)
		sd := deviation(x)
		if sd == 0 {
			return best
		}
		for p := from; p < 2*base && float64(p)*scale < longestPeriod*perSecond; p++ {
			rows := len(x) / p
			if rows < 12 {
				break
			}
			period, sum := foldAll(x, p)
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

// foldAll folds x at all periods from p to p+1 and returns the one with the
// greatest sum in one place, and that sum.
func foldAll(x []float32, p int) (period, most float64) {
	rows := len(x) / p
	m := 1
	for m < rows {
		m *= 2
	}
	a, b := make([]float32, m*p), make([]float32, m*p)
	copy(a, x[:rows*p])
	for size := 1; size < m; size *= 2 {
		for group := 0; group < m; group += 2 * size {
			for j := range 2 * size {
				head := a[(group+j/2)*p:][:p]
				tail := a[(group+size+j/2)*p:][:p]
				out := b[(group+j)*p:][:p]
				shift := (j + 1) / 2 % p
				for i, v := range tail[shift:] {
					out[i] = head[i] + v
				}
				rest := out[p-shift:]
				for i, v := range tail[:shift] {
					rest[i] = head[p-shift+i] + v
				}
			}
		}
		a, b = b, a
	}
	top, row := float32(0), 0
	for i, v := range a {
		if v > top {
			top, row = v, i/p
		}
	}
	return float64(p) + float64(row)/float64(max(1, m-1)), float64(top)
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
