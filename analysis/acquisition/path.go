package acquisition

import (
	"cmp"
	"context"
	"math"
	"slices"

	"rundown/dsp/parallel"
)

// path returns the places, in blocks, of the sounds that come about every
// period in a stretch of onset strengths: the sequence in which strength less
// the cost of uneven steps adds up to most, by dynamic programming (D. P. W.
// Ellis, J. New Music Res. 36, 2007, 51). Because each step starts from the
// sound before it, time that a movement lost once is lost to all later places.
// No step is more than so many places off the period.
func path(strength []float32, period float64, most int) []int {
	reach := max(3, min(most, int(stepReach*period)))
	p := int(period + 0.5)
	n := len(strength)
	if n < p+reach {
		return nil
	}
	cost := stepCosts(period, reach)
	for len(cost)%5 != 0 {
		cost = append(cost, float32(math.Inf(1)))
	}
	lead := p - reach + len(cost) // a longest step ahead of the first place
	best := make([]float32, lead+n)
	for i := range lead {
		best[i] = float32(math.Inf(-1))
	}
	// No step is shorter than a chunk, so that of all its places the same steps
	// can be tried one after the other.
	for at := 0; at < n; at += p - reach {
		end := min(n, at+p-reach)
		to := best[lead+at : lead+end]
		for j := 0; j < len(cost); j += 5 {
			before := best[lead+at-(p-reach+j+4):][:len(to)+4]
			c0, c1, c2, c3, c4 := cost[j], cost[j+1], cost[j+2], cost[j+3], cost[j+4]
			for i, v := range to {
				b := before[i : i+5 : i+5]
				to[i] = greatest(v, b[4]-c0, b[3]-c1, b[2]-c2, b[1]-c3, b[0]-c4)
			}
		}
		for i, v := range strength[at:end] {
			to[i] += v
		}
	}
	best = best[lead:]
	end := n - 1
	for i := max(0, n-p-reach); i < n; i++ {
		if best[i] > best[end] {
			end = i
		}
	}
	var out []int
	for i := end; i >= 0; i = stepTo(best, i, p-reach, cost) {
		out = append(out, i)
	}
	for i, j := 0, len(out)-1; i < j; i, j = i+1, j-1 {
		out[i], out[j] = out[j], out[i]
	}
	return out
}

// greatest returns the greatest of some numbers of which the first is not negative:
// the order is that of their bits, which the processor compares without a branch.
func greatest(a, b, c, d, e, f float32) float32 {
	x := max(int32(math.Float32bits(a)), int32(math.Float32bits(b)), int32(math.Float32bits(c)))
	y := max(int32(math.Float32bits(d)), int32(math.Float32bits(e)), int32(math.Float32bits(f)))
	return math.Float32frombits(uint32(max(x, y)))
}

// stepTo returns the place from which the best step leads to place i, the shortest
// of which is given; -1 where none gains anything.
func stepTo(best []float32, i, shortest int, cost []float32) int {
	from, most := -1, float32(0)
	for j, c := range cost {
		if k := i - shortest - j; k >= 0 && best[k]-c > most {
			from, most = k, best[k]-c
		}
	}
	return from
}

// stepCosts returns what steps up to so many places shorter and longer than a period
// cost.
func stepCosts(period float64, reach int) []float32 {
	cost := make([]float32, 2*reach+1)
	for i := range cost {
		d := (math.Floor(period+0.5) + float64(i-reach) - period) / (2 + stepShare*period)
		cost[i] = float32(min(d*d*stepCost, 4*stepCost+stepCost*math.Abs(d)))
	}
	return cost
}

const (
	stepReach = 0.03
	stepCost  = 0.1
	stepShare = 0.002
)

// candidate is a period, in values of the envelope, at which sounds come.
type candidate struct {
	period float64
	z      float64 // by how much they are louder than those at other periods, in standard errors times an unknown
	level  float64 // how loud they are, mean power about them, where they were looked at
}

// candidates returns the periods of the clearest paths, the clearest first, in an
// envelope that is made coarser where a period has more than so many values. Periods are
// tried each step times the one before.
func candidates(ctx context.Context, envelope []float32, from, to, step, fine float64, most int) []candidate {
	const near = 12 // more than a period may be off that between two of these, and a beat from its place
	type coarse struct {
		x     []float32
		scale float64 // values of the envelope a value of x
	}
	var all []candidate
	var at []coarse // which each period is looked for in
	for q, c := from, (coarse{envelope, 1}); q < to; q *= step {
		for q/c.scale > fine {
			c = coarse{halve(c.x), 2 * c.scale}
		}
		all, at = append(all, candidate{period: q}), append(at, c)
	}
	mean := make([]float64, len(all))
	parallel.Each(len(all), func(i int) {
		if ctx.Err() != nil {
			return
		}
		x := at[i].x
		p := path(x, all[i].period/at[i].scale, near)
		var sum float64
		for _, i := range p {
			sum += float64(x[i])
		}
		all[i].z = math.Sqrt(float64(len(p)))
		mean[i] = sum / float64(max(1, len(p)))
	})
	const around = 18
	for i := range all {
		all[i].z *= mean[i] - median(mean[max(0, i-around):min(len(mean), i+around+1)])
	}
	return clearest(all, 0.04, most)
}

// clearest returns the clearest candidates, the clearest first, of periods that
// differ by more than some part.
func clearest(all []candidate, part float64, most int) (out []candidate) {
	slices.SortStableFunc(all, func(a, b candidate) int { return cmp.Compare(b.z, a.z) })
	for _, c := range all {
		near := func(o candidate) bool { return math.Abs(o.period/c.period-1) < part }
		if len(out) < most && !slices.ContainsFunc(out, near) {
			out = append(out, c)
		}
	}
	return out
}

// halve returns the means of pairs.
func halve(x []float32) []float32 {
	out := make([]float32, len(x)/2)
	for i := range out {
		out[i] = (x[2*i] + x[2*i+1]) / 2
	}
	return out
}
