package sequence

import "math"

const (
	stride = 192 // beats heard in a block, in which scatter and memory are the same
	beside = 3   // blocks on either side with which a block's scatter is averaged
)

// block is what is known of a few beats that follow each other.
type block struct {
	from, to int        // beats from one to before the other
	memory   float64    // beats over which the course bends little
	sigma2   [2]float64 // variance of y about the course, by side
}

// sums are numbers of beats by side, and sums over them.
type sums struct{ n, sum [2]float64 }

// average sets the scatter of each block to the mean of its neighbourhood, from
// the sums of each block; where there are too few beats, to otherwise.
func (l *line) average(of []sums, otherwise [2]float64) {
	least := finest * finest / (l.unit * l.unit)
	for i := range l.blocks {
		var n, sum [2]float64
		for k := max(i-beside, 0); k <= min(i+beside, len(of)-1); k++ {
			for side := range n {
				n[side] += of[k].n[side]
				sum[side] += of[k].sum[side]
			}
		}
		for side := range n {
			l.blocks[i].sigma2[side] = otherwise[side]
			if n[side] >= 4*fewestBeats {
				l.blocks[i].sigma2[side] = math.Max(sum[side]/n[side], least)
			}
		}
	}
}

// second returns the second difference of x at beat j on its side, and whether
// there is one: its variance is six times that of x.
func (l *line) second(x []float64, j int) (float64, bool) {
	if j < 4 || l.index[j]-l.index[j-4] != 4 {
		return 0, false
	}
	return x[j] - 2*x[j-2] + x[j-4], true
}

// spread finds the scatter from second differences, of which steps and beats
// displaced alone spoil no more than a few.
func (l *line) spread() {
	of := make([]sums, len(l.blocks))
	var all [2][]float64
	for i, b := range l.blocks {
		var d [2][]float64
		for j := b.from; j < b.to; j++ {
			if v, ok := l.second(l.y, j); ok {
				d[l.side[j]] = append(d[l.side[j]], v)
			}
		}
		for side, x := range d {
			if len(x) >= fewestBeats {
				s := mad(x, 0)
				of[i].n[side] = float64(len(x))
				of[i].sum[side] = s * s / 6 * float64(len(x))
			}
			all[side] = append(all[side], x...)
		}
	}
	otherwise := [2]float64{1, 1}
	for side, x := range all {
		if len(x) >= fewestBeats {
			s := mad(x, 0)
			otherwise[side] = math.Max(s*s/6, finest*finest/(l.unit*l.unit))
		}
	}
	l.average(of, otherwise)
}

// rescatter finds the scatter from the innovations, after search. Large ones are
// cut short, and what that takes from a Gaussian given back, so that beats
// displaced by little do not count for much.
func (l *line) rescatter() {
	of := make([]sums, len(l.blocks))
	for i, b := range l.blocks {
		of[i] = l.innovations(b)
		for side := range b.sigma2 {
			of[i].sum[side] *= b.sigma2[side]
		}
	}
	var before [2]float64
	for _, b := range l.blocks {
		for side, v := range b.sigma2 {
			before[side] += v / float64(len(l.blocks))
		}
	}
	l.average(of, before)
}

// innovations returns the squares of the innovations over their variance, summed
// over a block.
func (l *line) innovations(b block) sums {
	const cut, left = 4, 0.92054 // square of two standard deviations; mean of min(x², cut)
	var s sums
	for j := b.from; j < b.to; j++ {
		if l.shows(j) {
			s.n[l.side[j]]++
			s.sum[l.side[j]] += math.Min(l.score[j], cut) / left
		}
	}
	return s
}

// weigh sets the variance of each beat from the scatter of its side and its own
// error, and how much the course wanders.
func (l *line) weigh() {
	for _, b := range l.blocks {
		var n, own [2]float64
		for j := b.from; j < b.to; j++ {
			n[l.side[j]]++
			own[l.side[j]] += l.se[j] * l.se[j]
		}
		mean := 0.
		for j := b.from; j < b.to; j++ {
			side := l.side[j]
			l.v[j] = b.sigma2[side]
			if own[side] > 0 { // the sound's share of the scatter goes to each beat as its own error says
				share := math.Min(own[side]/n[side], b.sigma2[side])
				l.v[j] += share * (l.se[j]*l.se[j]*n[side]/own[side] - 1)
			}
			mean += l.v[j] / float64(b.to-b.from)
		}
		q := wander{mean * math.Pow(b.memory, -6), mean * math.Pow(2*b.memory, -4), mean * l.walk}
		for j := b.from; j < b.to; j++ {
			l.q[j] = q
		}
	}
}
