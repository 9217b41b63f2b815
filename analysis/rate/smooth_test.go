package rate

import (
	"math"
	"math/rand/v2"
	"testing"
)

func TestSmooth(t *testing.T) {
	t.Run("a rate where it stopped", func(t *testing.T) { smoothStop(t, Value{15, 0.1}) })
	t.Run("no rate where it stopped", func(t *testing.T) { smoothStop(t, Value{math.NaN(), math.NaN()}) })
}

// smoothStop smooths a run that stops in a window of the rate given, and goes
// on faster by 30 s/day.
func smoothStop(t *testing.T, stopped Value) {
	ws := windowsOf(make([]float64, 40)...)
	rng := rand.New(rand.NewPCG(5, 31))
	for i := range ws {
		ws[i].Rate = Value{0.1 * rng.NormFloat64(), 0.1}
		if i >= 20 {
			ws[i].Rate.X += 30
		}
	}
	ws[20].Stopped = true
	ws[20].Rate = stopped
	ws[10].Rate = Value{math.NaN(), math.NaN()}
	Smooth(ws)
	for i := range ws {
		want := 0.
		if i > 20 {
			want = 30
		}
		if got := ws[i].Smoothed; i != 20 && i != 10 && !(math.Abs(got.X-want) < 0.15 && got.SE < 0.1) {
			t.Errorf("window %d: %v, want %v", i, got, want)
		}
	}
	if !math.IsNaN(ws[10].Smoothed.X) {
		t.Errorf("a window without a rate has %v", ws[10].Smoothed)
	}
}
