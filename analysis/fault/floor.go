package fault

import (
	"cmp"
	"math"
	"slices"
	"sort"

	"rundown/dsp/stats"
)

// floor is the noise beneath a spectrum. Its shape is the sum of what clocks
// are subject to: white scatter of the beat times, a random walk of their phase
// (power as f^-2) and one of their rate (f^-4), fitted to the medians of wide
// bands; what that leaves is evened out by the medians of narrower blocks. Lines
// hardly move a median.
type floor struct {
	shape  [3]float64 // power density at one turn a segment of the f^0, f^-2 and f^-4 part
	blocks []floorBlock
}

// floorBlock is a stretch of the spectrum, by turns in a segment.
type floorBlock struct {
	from, to float64
	ratio    float64 // logarithm of median power over shape
}

const (
	// lowestTurns is where the trend, of up to three turns, has left the noise
	// whole. Nearer to it the edge of what is gone looks like a line.
	lowestTurns = 7
	// Width of the blocks, in turns: at the low end, and at most.
	minBlock, maxBlock = 40, 240
	// independent is how many independent bins a block holds for every turn of
	// its width, for the precision of its median: Hann's window widens a bin
	// by half, and a median needs twice the data of a mean.
	independent = 0.33
)

// bands is a power spectrum seen by bands.
type bands struct {
	power    []float64 // mean over the segments, per bin; negative where it doesn't count
	perTurn  float64   // bins in a turn in a segment
	segments int
}

// median is the median of the power over scale between two frequencies in turns,
// as the mean that noise of such a median has; 0 where there is none. Of wide
// bands some thousand bins are looked at.
func (b bands) median(from, to float64, scale func(turns float64) float64) float64 {
	const enough = 1000
	first, last := int(math.Ceil(from*b.perTurn)), min(int(to*b.perTurn), len(b.power))
	var v []float64
	for k := first; k < last; k += 1 + (last-first)/enough {
		if b.power[k] >= 0 {
			v = append(v, b.power[k]/scale(float64(k)/b.perTurn))
		}
	}
	if len(v) == 0 {
		return 0
	}
	slices.Sort(v)
	return v[len(v)/2] / medianOfGamma(b.segments)
}

// newFloor measures the floor of a spectrum. The last turns before its end are
// left out.
func newFloor(b bands) *floor {
	top := float64(len(b.power))/b.perTurn - lowestTurns
	f := &floor{}
	f.fitShape(b, top)
	for from := float64(lowestTurns); from < top; {
		to := from + min(max(minBlock, from/2), maxBlock)
		if to+minBlock > top {
			to = top
		}
		if ratio := b.median(from, to, f.model); ratio > 0 {
			f.blocks = append(f.blocks, floorBlock{from, to, math.Log(ratio)})
		}
		from = to
	}
	return f
}

// medianOfGamma is the median of a gamma variate of shape m and mean 1
// (exact for 1, else by Wilson and Hilferty's cube).
func medianOfGamma(m int) float64 {
	if m == 1 {
		return math.Ln2
	}
	c := 1 - 1/(9*float64(m))
	return c * c * c
}

// model is the shape at a frequency in turns.
func (f *floor) model(turns float64) float64 {
	inv := 1 / (turns * turns)
	return f.shape[0] + inv*(f.shape[1]+inv*f.shape[2])
}

// fitShape fits the shape to the medians of bands that are each half as wide
// again as the one below. It climbs the likelihood of gamma-distributed band
// powers by multiplicative steps, which keep every part positive (as Févotte,
// Bertin and Durrieu do in Neural Computation 21, 2009, for spectra of sound).
// A band far above the shape, where a line may be, pulls no harder than one at
// four times its height.
func (f *floor) fitShape(b bands, top float64) {
	const wider, rounds, strongest = 1.5, 300, 4
	type band struct{ turns, power, weight float64 }
	var list []band
	for from := float64(lowestTurns); from < top; from *= wider {
		to := min(from*wider, top)
		centre := math.Sqrt(from * to)
		if p := b.median(from, to, func(float64) float64 { return 1 }); p > 0 {
			list = append(list, band{centre, p, to - from})
		}
	}
	if len(list) == 0 {
		f.shape[0] = 1
		return
	}
	least := slices.MinFunc(list, func(a, b band) int { return cmp.Compare(a.power, b.power) })
	f.shape = [3]float64{least.power, 1e-3 * least.power * lowestTurns * lowestTurns, 1e-3 * least.power * math.Pow(lowestTurns, 4)}
	for range rounds {
		var up, down [3]float64
		for _, b := range list {
			model := f.model(b.turns)
			pull := min(b.power/model, strongest)
			part := b.weight / model
			for j := range f.shape {
				up[j] += pull * part
				down[j] += part
				part /= b.turns * b.turns
			}
		}
		for j := range f.shape {
			f.shape[j] *= up[j] / down[j]
		}
	}
}

// block returns the index of the block that holds a frequency in turns, or of
// the nearest one.
func (f *floor) block(turns float64) int {
	k := sort.Search(len(f.blocks), func(k int) bool { return f.blocks[k].to > turns })
	return min(k, len(f.blocks)-1)
}

// at is the noise at a frequency in turns, in s² per value.
func (f *floor) at(turns float64) float64 {
	if len(f.blocks) == 0 {
		return f.model(turns)
	}
	return f.model(turns) * math.Exp(f.ratio(turns))
}

// ratio interpolates between the middles of the blocks.
func (f *floor) ratio(turns float64) float64 {
	k := f.block(turns)
	b := f.blocks[k]
	mid := (b.from + b.to) / 2
	other := k + 1
	if turns < mid {
		other = k - 1
	}
	if other < 0 || other >= len(f.blocks) {
		return b.ratio
	}
	o := f.blocks[other]
	part := (turns - mid) / ((o.from+o.to)/2 - mid)
	return b.ratio + part*(o.ratio-b.ratio)
}

// bins is the number of independent bins by which the floor at a frequency in
// turns is known.
func (f *floor) bins(turns float64) float64 {
	if len(f.blocks) == 0 {
		return 1
	}
	b := f.blocks[f.block(turns)]
	return max(1, independent*(b.to-b.from))
}

// evidence is minus the logarithm of the probability that the mean of some
// segments of noise has as much power at a frequency in turns.
func (f *floor) evidence(power, turns float64, segments int) float64 {
	z := power / f.at(turns)
	if segments == 1 {
		return -stats.LogRatioTail(f.bins(turns), z)
	}
	return -stats.LogGammaTail(segments, z*float64(segments))
}
