package acquisition

import (
	"cmp"
	"math"
	"slices"
)

// path returns the places, in blocks, of the sounds that come about every
// period in a stretch of onset strengths: the sequence in which strength less
// the cost of uneven steps adds up to most, by dynamic programming (D. P. W.
// Ellis, J. New Music Res. 36, 2007, 51). Because each step starts from the
// sound before it, time that a movement lost once is lost to all later places.
func path(strength []float32, period float64) []int {
	reach := max(3, int(stepReach*period))
	p := int(period + 0.5)
	n := len(strength)
	if n < p+reach {
		return nil
	}
	cost := make([]float32, 2*reach+1)
	for i := range cost {
		d := (float64(p+i-reach) - period) / (2 + stepShare*period)
		cost[i] = float32(min(d*d*stepCost, 4*stepCost+stepCost*math.Abs(d)))
	}
	best := make([]float32, n)
	from := make([]int32, n)
	for i, s := range strength {
		from[i] = -1
		for j, c := range cost {
			k := i - (p + j - reach)
			if k >= 0 && best[k]-c > best[i] {
				best[i], from[i] = best[k]-c, int32(k)
			}
		}
		best[i] += s
	}
	end := n - 1
	for i := max(0, n-p-reach); i < n; i++ {
		if best[i] > best[end] {
			end = i
		}
	}
	var out []int
	for i := int32(end); i >= 0; i = from[i] {
		out = append(out, int(i))
	}
	for i, j := 0, len(out)-1; i < j; i, j = i+1, j-1 {
		out[i], out[j] = out[j], out[i]
	}
	return out
}

const (
	stepReach = 0.03
	stepCost  = 0.1
	stepShare = 0.004
)

// candidate is a period, in values of the envelope, at which sounds come.
type candidate struct {
	period float64
	z      float64 // by how much they are louder than those at other periods, in standard errors times an unknown
}

// candidates returns the periods of the clearest paths, the clearest first.
func candidates(envelope []float32, from, to float64, most int) []candidate {
	const step = 1.015
	var all []candidate
	var mean []float64
	x, scale := envelope, 1.0
	for q := from; q < to; q *= step {
		for q/scale > 400 {
			x, scale = halve(x), 2*scale
		}
		p := path(x, q/scale)
		var sum float64
		for _, i := range p {
			sum += float64(x[i])
		}
		all = append(all, candidate{q, math.Sqrt(float64(len(p)))})
		mean = append(mean, sum/float64(max(1, len(p))))
	}
	const around = 12
	for i := range all {
		all[i].z *= mean[i] - median(mean[max(0, i-around):min(len(mean), i+around+1)])
	}
	slices.SortStableFunc(all, func(a, b candidate) int { return cmp.Compare(b.z, a.z) })
	var out []candidate
	for _, c := range all {
		near := func(o candidate) bool { return math.Abs(o.period/c.period-1) < 0.04 }
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
