package beat

import (
	"math"
	"math/rand/v2"
	"slices"
	"strings"
	"testing"
)

// TestRivalAmong gives times of sounds between the beats of a movement of five a second
// and expects another movement to be told where there is one, and its count.
func TestRivalAmong(t *testing.T) {
	const own = 5.0
	evenly := func(hz, phase, spread float64) func(rng *rand.Rand) []float64 {
		return func(rng *rand.Rand) (at []float64) {
			for k := 0.0; k/hz < 90; k++ {
				x := (k+phase)/hz + spread*rng.NormFloat64()
				// Half of the time the beats of the other one are in the way.
				if math.Mod(own*x, 1) < 0.5 {
					at = append(at, x)
				}
			}
			return at
		}
	}
	for _, c := range []struct {
		name   string
		sounds func(rng *rand.Rand) []float64
		want   float64 // beats a second; 0 for none
	}{
		{"another count", evenly(6.003, 0.2, 3e-3), 6.003},
		{"a fast one", evenly(8, 0.4, 3e-3), 8},
		{"a slow one", evenly(1.0001, 0.1, 3e-3), 1.0001},
		{"the same count, of another rate", evenly(5.0005, 0.2, 3e-3), 5.0005},
		{"its own late sound", evenly(own, 0.2, 3e-3), 0},
		{"its own late sound on one side", evenly(own/2, 0.1, 3e-3), 0},
		{"its own drop, ever later before it stops", func(rng *rand.Rand) (at []float64) {
			for k := range 48 {
				t := float64(k) * 2 / own
				lift := 0.06 / math.Sqrt(1-t/25) // of an amplitude that falls to a fifth
				at = append(at, t+lift+1e-3*rng.NormFloat64())
			}
			return at
		}, 0},
		{"speech", func(rng *rand.Rand) (at []float64) {
			for x := 0.0; x < 90; x += 0.1 + 0.3*rng.ExpFloat64() {
				at = append(at, x)
			}
			return at
		}, 0},
		{"speech over it", func(rng *rand.Rand) []float64 {
			at := evenly(6.003, 0.2, 3e-3)(rng)
			for range len(at) / 2 {
				at = append(at, 90*rng.Float64())
			}
			slices.Sort(at)
			return at
		}, 6.003},
	} {
		for seed := range uint64(*trials) {
			at := c.sounds(rand.New(rand.NewPCG(seed, 4)))
			tr := &tracker{model: &soundModel{rate: 48000, period: 2 * 48000 / own}}
			at = at[:min(len(at), batch)]
			if own := tr.ownAmong(at) != nil; own != strings.HasPrefix(c.name, "its own") {
				t.Errorf("%s, seed %d: the movement's own %v", c.name, seed, own)
			}
			its := tr.rivalAmong(at)
			if math.Abs(tr.rival.hz-c.want) > 2e-4*c.want || (its != nil) != (c.want > 0) {
				t.Errorf("%s, seed %d: %.5f a second, want %g", c.name, seed, tr.rival.hz, c.want)
			}
		}
	}
}
