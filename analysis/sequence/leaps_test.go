package sequence

import (
	"math"
	"math/rand/v2"
	"testing"
)

// TestTwofold: Gaussian values are seldom taken for two groups, and two groups
// not for one.
func TestTwofold(t *testing.T) {
	const trials = 10000
	r := rand.New(rand.NewPCG(1, 1))
	for _, n := range []int{6, 12, 16, 24, 40, 80, 160, 320} {
		wrong, right := 0, 0
		for i := range trials {
			x := make([]float64, n)
			for k := range x {
				x[k] = r.NormFloat64()
			}
			if twofold(split(x)) {
				wrong++
			}
			if i%100 == 0 && n >= 12 {
				for k := range x[:n/3] {
					x[k] += 25
				}
				if near, far := split(x); twofold(near, far) && int(far.n) == n/3 {
					right++
				}
			}
		}
		if wrong > trials/5000 || n >= 12 && right < trials/100*9/10 {
			t.Errorf("%d values: %d of %d taken for two groups, two groups seen in %d of %d", n, wrong, trials, right, trials/100)
		}
	}
}

func TestLeaps(t *testing.T) {
	saw := make([]float64, 30)
	saw[7] = 30
	stairs := make([]float64, 30)
	stairs[5], stairs[12], stairs[20], stairs[25] = 10, 10, 10, -30
	r := rand.New(rand.NewPCG(1, 1))
	teeth, wave := make([]float64, 30), make([]float64, 30)
	last := 0.
	for i := range teeth {
		next := 5 * r.NormFloat64()
		teeth[i], last = next-last, next
		wave[i] = 5 * math.Cos(2*math.Pi*float64(i)/30)
	}
	for _, c := range []struct {
		name string
		rise []float64
		want int // first place that leaps for good; -1 for none
	}{
		{"none", make([]float64, 30), -1},
		{"one", saw, 7},
		{"stairs", stairs, -1},
		{"uneven teeth", teeth, -1},
		{"out of round", wave, -1},
	} {
		got := -1
		for p, l := range leaps(c.rise, 0.01, 14) {
			if l {
				got = p
				break
			}
		}
		if got != c.want {
			t.Errorf("%s: leaps at %d, want %d", c.name, got, c.want)
		}
	}
}
