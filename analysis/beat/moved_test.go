package beat

import (
	"math"
	"testing"
)

// TestInPhaseAgain holds what passes for a movement that never stood still: beats that
// are not heard, and then one within a hundredth of an interval of its place after three,
// but not after half a minute.
func TestInPhaseAgain(t *testing.T) {
	const rate, tau = 48000, 48000.
	tr := &tracker{model: &soundModel{rate: rate, period: 2 * tau}}
	for _, c := range []struct{ beats, off float64 }{{3, 1.2e-3}, {3, -9e-3}} {
		if got := tr.tolerance(newKalman(0, tau, 0, 2, 0.01), c.beats); math.Abs(c.off)*rate > got {
			t.Errorf("%v ms out of place after %v beats is none of its own: %.2f ms", 1e3*c.off, c.beats, 1e3*got/rate)
		}
	}
	if got := tr.tolerance(newKalman(0, tau, 0, 2, 0.01), 30); got > 1.2e-3*rate {
		t.Errorf("after 30 beats %.2f ms pass for none", 1e3*got/rate)
	}
}
