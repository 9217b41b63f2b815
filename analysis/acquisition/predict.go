package acquisition

import "math"

// cellSeconds is how much sound is predicted at once.
const cellSeconds = 0.004

// scale makes x of unit energy.
func scale(x []float32) {
	if e := dot(x, x); e > 0 {
		g := float32(1 / math.Sqrt(float64(e)))
		for i := range x {
			x[i] *= g
		}
	}
}

// rows are sounds about marks: a matrix of as many cells a row.
type rows struct {
	cell  int     // samples
	cells int     // a row
	half  float64 // half the degrees of freedom of a cell
	at    []float64
	x     [][]float32 // nil where there is none
	cost  [2]float64  // of placing those of one side, and of the other, in nats
}

// noRows returns rows from one place after their marks to another, of which there are none yet.
func (w *white) noRows(from, to float64) rows {
	r := rows{cell: int(cellSeconds * w.perSec), half: cellSeconds * w.hz}
	r.cells = max(1, int((to-from)/float64(r.cell)))
	return r
}

func (w *white) rows(marks []float64, from, to float64) rows {
	r := w.noRows(from, to)
	for _, m := range marks {
		x := make([]float32, r.cells*r.cell)
		if !r.read(x, w, m+from) {
			x = nil
		}
		r.x = append(r.x, x)
		r.at = append(r.at, m)
	}
	return r
}

// read sets x to the row of w that begins at a place; false where w does not hold it.
func (r *rows) read(x []float32, w *white, at float64) bool {
	if !w.row(x, at) {
		return false
	}
	// All cells of one energy: no bark counts more than a beat.
	for c := range r.cells {
		scale(x[c*r.cell : (c+1)*r.cell])
	}
	return true
}

// meanRow returns the mean of the rows that these marks would have.
func (w *white) meanRow(marks []float64, from, to float64) []float32 {
	r := w.noRows(from, to)
	sum, x := make([]float32, r.cells*r.cell), make([]float32, r.cells*r.cell)
	n := 0
	for _, m := range marks {
		if r.read(x, w, m+from) {
			add(sum, 1, x)
			n++
		}
	}
	for i := range sum {
		sum[i] /= float32(max(1, n))
	}
	return sum
}

// profile is the log-likelihood by which rows predict each other better than nothing does.
type profile struct {
	rows  []float64    // of each row by the others
	cells [2][]float64 // of each cell, summed over the rows of either side
}

// profile returns how well the rows predict each other if they are of so many classes in
// turn. Each cell is predicted from those of its class, from those of all, or not at all,
// whichever does best over all rows.
func (r *rows) profile(classes int) profile {
	cells := [2][]float64{make([]float64, r.cells), make([]float64, r.cells)}
	out := make([]float64, len(r.x))
	n := 0
	for k, x := range r.x {
		if x == nil {
			continue
		}
		n++
		out[k] = -r.cost[k%2]
	}
	if n < 3 {
		return profile{out, cells}
	}
	all, own := make([]float64, len(r.x)), make([]float64, len(r.x))
	energy := make([]float32, len(r.x))
	for c := range r.cells {
		for k := range r.x {
			if v := r.of(k, c); v != nil {
				energy[k] = dot(v, v)
			}
		}
		best, most := r.column(all, energy, c, 1), 0.0
		gain := all
		if classes > 1 {
			if v := r.column(own, energy, c, classes); v > best {
				best, gain = v, own
			}
		}
		if best > most {
			for k, v := range gain {
				out[k] += v
				cells[k%2][c] += v
			}
		}
	}
	return profile{out, cells}
}

// of returns cell c of row k, nil where there is none.
func (r *rows) of(k, c int) []float32 {
	if r.x[k] == nil {
		return nil
	}
	return r.x[k][c*r.cell : (c+1)*r.cell]
}

// column sets dst to what the other rows of each one's class tell of its cell c, of which
// the energies are given, and returns the sum.
func (r *rows) column(dst []float64, energy []float32, c, classes int) (total float64) {
	var sums [2][]float32
	var count, energies [2]float32
	for k := range classes {
		sums[k] = make([]float32, r.cell)
	}
	for k := range r.x {
		if v := r.of(k, c); v != nil {
			class := k % classes
			add(sums[class], 1, v)
			count[class]++
		}
	}
	for k := range classes {
		energies[k] = dot(sums[k], sums[k])
	}
	for k := range r.x {
		dst[k] = 0
		class := k % classes
		v, m := r.of(k, c), count[class]-1
		if v == nil || m < 1 {
			continue
		}
		vv, sv, ss := energy[k], dot(sums[class], v), energies[class]
		uu, uv := (ss-2*sv+vv)/(m*m), (sv-vv)/m // of the mean of the others
		// Of its energy, 1/m is noise, as far as they are of unit energy.
		g := max(0, 1-1/m/max(uu, 1e-20))
		rest := vv - 2*g*uv + g*g*uu
		dst[k] = -r.half * math.Log(max(float64(rest), 0.02))
		total += dst[k]
	}
	return total
}
