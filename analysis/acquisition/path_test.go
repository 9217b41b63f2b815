package acquisition

import (
	"math"
	"math/rand/v2"
	"slices"
	"testing"
)

// plainPath is path, place by place.
func plainPath(strength []float32, period float64, most int) (out []int) {
	reach := max(3, min(most, int(stepReach*period)))
	cost, shortest := stepCosts(period, reach), int(period+0.5)-reach
	best, from := slices.Clone(strength), make([]int, len(strength))
	for i := range best {
		gain := float32(0)
		from[i] = -1
		for j, c := range cost {
			if k := i - shortest - j; k >= 0 && best[k]-c > gain {
				from[i], gain = k, best[k]-c
			}
		}
		best[i] += gain
	}
	end := len(best) - 1
	for i := max(0, len(best)-shortest-2*reach); i < len(best); i++ {
		if best[i] > best[end] {
			end = i
		}
	}
	for i := end; i >= 0; i = from[i] {
		out = append(out, i)
	}
	slices.Reverse(out)
	return out
}

func TestPathIsTheBest(t *testing.T) {
	r := rand.New(rand.NewPCG(1, 2))
	for trial := range 100 {
		x := make([]float32, 400+r.IntN(2000))
		for i := range x {
			x[i] = float32(r.NormFloat64() + 0.2*float64(trial%5-2))
			if trial%7 == 0 { // places of one strength
				x[i] = float32(math.Round(float64(x[i])))
			}
		}
		period := 10 + 300*r.Float64()
		if got, want := path(x, period, 12), plainPath(x, period, 12); !slices.Equal(got, want) {
			t.Errorf("trial %d, period %.1f: %v, want %v", trial, period, got, want)
		}
	}
	if got := path(make([]float32, 99), 97, 12); got != nil {
		t.Errorf("less than a period: %v", got)
	}
}
