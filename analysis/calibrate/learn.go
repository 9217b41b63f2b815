package calibrate

import (
	"math"
	"slices"

	"rundown/dsp/filter"
	"rundown/dsp/onset"
	"rundown/dsp/stats"
)

// Lengths of a tick or pulse, s.
const (
	before = 0.002 // its mark: what is taken of the sound
	after  = 0.010
	// searchWindow is how far from its expected place a tick is looked for,
	// either side.
	searchWindow = 0.002
	learnWindow  = 0.030 // likewise, before its place is known
	cell         = 0.001 // of the envelope
)

// learned is what a stretch of the recording says of the ticks in it.
type learned struct {
	matcher *onset.Matcher
	likely  float64 // correlation that the usual tick has with the mean one
	first   float64 // frame of the first tick
	period  float64 // frames
	sigma   float64 // scatter of the ticks about that, frames
}

// learn finds ticks of a known period, in frames, in x, whose first frame is
// first. The second result is false where there are none.
func learn(x []float32, first int64, rate, period float64) (learned, bool) {
	rough, ok := fold(x, rate, period)
	if !ok {
		return learned{}, false
	}
	l := learned{period: period}
	starts := make([]int, len(rough))
	for i, at := range rough {
		starts[i] = int(at)
	}
	// A few periods tell enough of the room.
	few := min(8, len(starts)-1)
	shaping := onset.NewShaping(x[:starts[few]], rate, starts[:few], int(after*rate), int(min(3*after*rate, period/4)))
	pre, post := int(before*rate), int(min(after*rate, period/2))
	reach := int(learnWindow * rate)
	// The first template is the loudest tick but a few, the following ones the
	// mean of all that look like it.
	template := onset.NewAverage(pre, post)
	template.Add(x, rough[typical(x, starts, post)])
	marks := make([]float64, len(rough))
	var likeness []float64
	for range 3 {
		if template.N == 0 {
			return learned{}, false
		}
		l.matcher = onset.NewMatcher(shaping, template.Mean(), template.N, float64(pre), reach)
		template.Reset()
		likeness = likeness[:0]
		for i, at := range rough {
			m, ok := l.matcher.Find(x, 0, at, float64(reach))
			marks[i] = math.NaN()
			if !ok || m.Rho < 0.3 || m.SNR < 5 {
				continue
			}
			likeness = append(likeness, m.Rho)
			marks[i] = m.Frame
			template.Add(x, m.Frame)
		}
	}
	slices.Sort(likeness)
	l.likely = median(likeness)
	if !l.line(marks) || len(likeness)*2 < len(rough) {
		return learned{}, false
	}
	l.first += float64(first)
	return l, l.sigma < 0.25*searchWindow*rate
}

// line fits an even spacing to marks, NaN where none was found: the medians of
// slopes and of what is left.
func (l *learned) line(marks []float64) bool {
	var slopes, off []float64
	apart := max(1, len(marks)/2)
	for i := range marks {
		if i >= apart {
			if d := marks[i] - marks[i-apart]; !math.IsNaN(d) {
				slopes = append(slopes, d/float64(apart))
			}
		}
	}
	if len(slopes) < 3 {
		return false
	}
	slices.Sort(slopes)
	l.period = median(slopes)
	for i, m := range marks {
		if !math.IsNaN(m) {
			off = append(off, m-l.period*float64(i))
		}
	}
	slices.Sort(off)
	l.first = median(off)
	for i := range off {
		off[i] = math.Abs(off[i] - l.first)
	}
	slices.Sort(off)
	l.sigma = stats.PerMedian * median(off)
	return true
}

// typical returns which of the ticks that start at the given frames, n frames
// long, is louder than all but a quarter of them.
func typical(x []float32, starts []int, n int) int {
	order := make([]int, len(starts))
	energy := make([]float64, len(starts))
	for i, at := range starts {
		order[i] = i
		for k := max(0, at); k < min(len(x), at+n); k++ {
			energy[i] += float64(x[k]) * float64(x[k])
		}
	}
	slices.SortStableFunc(order, func(a, b int) int {
		switch {
		case energy[a] < energy[b]:
			return -1
		case energy[a] > energy[b]:
			return 1
		}
		return 0
	})
	return order[len(order)*3/4]
}

// fold lays the periods of x over each other and returns roughly where the
// sound that comes in every period sets in, frames; false where none does. It
// takes the band of frequencies in which that shows best.
func fold(x []float32, rate, period float64) ([]float64, bool) {
	const least = 8 // standard deviations
	block := int(math.Round(cell * rate))
	perSecond := rate / float64(block)
	cells := period / float64(block)
	var best []float32
	most, place := least*1.0, 0
	for _, centre := range []float64{600, 1500, 3500, 8000} {
		if centre > 0.4*rate {
			break
		}
		band := filter.NewBand(centre, 0.7, rate)
		padded := append(make([]float32, band.Warmup(), band.Warmup()+len(x)), x[:len(x)/block*block]...)
		strength := onset.Strength(nil, band.Energies(nil, padded, block), perSecond)
		if z, at := foldedPeak(strength, cells); z > most {
			most, place, best = z, at, strength
		}
	}
	if best == nil {
		return nil, false
	}
	var rough []float64
	half := int(learnWindow / cell / 2)
	for k := 0; ; k++ {
		at := place + int(math.Round(float64(k)*cells))
		if at+half >= len(best) {
			break
		}
		lo := max(0, at-half)
		peak := lo
		for i := lo; i <= at+half; i++ {
			if best[i] > best[peak] {
				peak = i
			}
		}
		if best[peak] == 0 {
			peak = at
		}
		rough = append(rough, float64(peak*block))
	}
	return rough, len(rough) >= 6
}

// foldedPeak returns where in a period, in cells, the mean of the strengths is
// greatest, over a few cells for the clock's error, and by how many robust
// standard deviations it stands out.
func foldedPeak(strength []float32, cells float64) (z float64, at int) {
	n := int(cells)
	sum := make([]float64, n)
	for k := 0; ; k++ {
		start := int(math.Round(float64(k) * cells))
		if start+n > len(strength) {
			break
		}
		for i, v := range strength[start : start+n] {
			sum[i] += float64(v)
		}
	}
	const width = 5
	smooth := make([]float64, n)
	for i := range sum {
		for w := range width {
			smooth[i] += sum[(i+w-width/2+n)%n]
		}
	}
	for i, v := range smooth {
		if v > smooth[at] {
			at = i
		}
	}
	sorted := slices.Clone(smooth)
	slices.Sort(sorted)
	middle := sorted[n/2]
	sd := max((sorted[n*5/6]-sorted[n/6])/2, 1e-3*sorted[n-1], 1e-12)
	return (smooth[at] - middle) / sd, at
}
