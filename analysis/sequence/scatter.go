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
	own      [2]float64 // variance of y about the course, without what the sound leaves, by side
}

// sums are numbers of beats by side, their weights, and weighted sums.
type sums struct{ n, weight, sum [2]float64 }

// average sets the scatter of each block to the weighted mean of its
// neighbourhood, from the sums of each block; where there are too few beats, to
// otherwise.
func (l *line) average(of []sums, otherwise [2]float64) {
	for i := range l.blocks {
		var all sums
		for _, s := range of[max(i-beside, 0):min(i+beside+1, len(of))] {
			for side := range s.n {
				all.n[side] += s.n[side]
				all.weight[side] += s.weight[side]
				all.sum[side] += s.sum[side]
			}
		}
		for side, v := range otherwise {
			if all.n[side] >= 4*fewestBeats {
				v = all.sum[side] / all.weight[side]
			}
			l.blocks[i].own[side] = math.Max(v, finest*finest/(l.unit*l.unit))
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

// estimateScatter finds the scatter from second differences, of which steps and beats
// displaced alone spoil no more than a few.
func (l *line) estimateScatter() {
	of := make([]sums, len(l.blocks))
	var all, sound [2][]float64
	for i, b := range l.blocks {
		var d, se [2][]float64
		for j := b.from; j < b.to; j++ {
			if v, ok := l.second(l.y, j); ok {
				d[l.side[j]] = append(d[l.side[j]], v)
				se[l.side[j]] = append(se[l.side[j]], l.se[j])
			}
		}
		for side, x := range d {
			all[side], sound[side] = append(all[side], x...), append(sound[side], se[side]...)
			if len(x) >= fewestBeats {
				of[i].n[side] = float64(len(x))
				of[i].weight[side] = float64(len(x))
				of[i].sum[side] = float64(len(x)) * rest(x, se[side])
			}
		}
	}
	otherwise := [2]float64{1, 1}
	for side, x := range all {
		if len(x) >= fewestBeats {
			otherwise[side] = rest(x, sound[side])
		}
	}
	l.average(of, otherwise)
}

// rest returns the variance that second differences show, without what the sound
// leaves, but a tenth of it at least. It overwrites both.
func rest(second, se []float64) float64 {
	s, e := mad(second, 0), median(se)
	return math.Max(s*s/6-e*e, s*s/60)
}

// rescatter finds the scatter from the innovations, after search: from each the
// variance that it has by itself, less what the sound leaves, with a weight that
// falls as that grows.
func (l *line) rescatter() {
	var before [2]float64
	for _, b := range l.blocks {
		for side, v := range b.own {
			before[side] += v / float64(len(l.blocks))
		}
	}
	of := make([]sums, len(l.blocks))
	whole, sound := 0., 0.
	for i, b := range l.blocks {
		for j := b.from; j < b.to; j++ {
			if !l.shows(j) {
				continue
			}
			side, total, se2 := l.side[j], l.v[j]*cut(l.score[j]), l.se[j]*l.se[j]
			weight := 1 + l.trust*se2/before[side]
			weight = 1 / (weight * weight)
			of[i].n[side]++
			of[i].weight[side] += weight
			of[i].sum[side] += weight * (total - l.trust*se2)
			whole += total / (l.v[j] * l.v[j])
			sound += se2 / (l.v[j] * l.v[j])
		}
	}
	l.average(of, before)
	if sound > 0 {
		l.trust = math.Min(1, whole/sound)
	}
}

// cut returns the square of a deviate, cut short where it is large, so that beats
// displaced by little do not count for much, and with what that takes from a
// Gaussian given back.
func cut(square float64) float64 {
	const most, left = 4, 0.92054 // two standard deviations; mean of min(x², 4)
	return math.Min(square, most) / left
}

// weigh sets the variance of each beat from the scatter of its side and its own
// error, and how much the course wanders.
func (l *line) weigh() {
	for _, b := range l.blocks {
		mean := 0.
		for j := b.from; j < b.to; j++ {
			l.v[j] = b.own[l.side[j]] + l.trust*l.se[j]*l.se[j]
			mean += 1 / l.v[j]
		}
		mean = float64(b.to-b.from) / mean // of those that tell most
		q := wander{mean * math.Pow(b.memory, -6), mean * math.Pow(2*b.memory, -4), mean * l.walk}
		for j := b.from; j < b.to; j++ {
			l.q[j] = q
		}
	}
}
