package rate

import (
	"math"
	"math/rand/v2"
	"testing"
)

func TestTrendOfLine(t *testing.T) {
	var obs []observation
	for i := range 50 {
		obs = append(obs, observation{t: 60 * float64(i), y: 3 - 0.01*60*float64(i), se: 0.1})
	}
	for i, s := range trend(obs, 0) {
		if math.Abs(s.level-obs[i].y) > 1e-6 || math.Abs(s.slope+0.01) > 1e-8 {
			t.Fatalf("at %v: %+v", obs[i].t, s)
		}
	}
	if trend(nil, 0) != nil {
		t.Error("a trend of nothing")
	}
	if s := trend(obs[:1], 0); s[0].level != 3 || s[0].levelSE != 0.1 {
		t.Errorf("of one: %+v", s)
	}
}

// TestTrendErrors counts how often intervals hold the truth, on evenly and
// unevenly spaced series, and asks that smoothing gains something.
func TestTrendErrors(t *testing.T) {
	t.Run("errors right", func(t *testing.T) { trendErrors(t, 1) })
	t.Run("errors too small", func(t *testing.T) { trendErrors(t, 0.2) })
}

// trendErrors gives the trend so much of the true standard errors.
func trendErrors(t *testing.T, claimed float64) {
	in, all := 0, 0
	var raw, smooth []float64
	for seed := range uint64(60) {
		rng := rand.New(rand.NewPCG(seed, 31))
		truth := func(t float64) float64 { return 5 * math.Sin(t/1500+float64(seed)) }
		var obs []observation
		for at := 0.; at < 12000; at += 60 {
			if rng.Float64() < 0.1 {
				at += 600 * rng.Float64()
			}
			se := 0.2 + 0.6*rng.Float64()
			obs = append(obs, observation{t: at, y: truth(at) + se*rng.NormFloat64(), se: claimed * se})
		}
		for i, s := range trend(obs, 0) {
			e := s.level - truth(obs[i].t)
			if math.Abs(e) < 1.96*s.levelSE {
				in++
			}
			all++
			raw = append(raw, obs[i].y-truth(obs[i].t))
			smooth = append(smooth, e)
		}
	}
	share, gain := float64(in)/float64(all), rms(raw)/rms(smooth)
	t.Logf("intervals hold the truth in %.3f, errors %.2f times smaller", share, gain)
	if share < 0.93 || share > 0.99 || gain < 2.5 {
		t.Errorf("intervals hold the truth in %.3f, errors %.2f times smaller", share, gain)
	}
}

// TestTrendBridgesBadOnes puts single and double bad figures into a series
// that is flat, bends, and falls steeply.
func TestTrendBridgesBadOnes(t *testing.T) {
	truth := func(i int) float64 {
		if i > 70 {
			return -2 * float64((i-70)*(i-70))
		}
		return 0.01 * float64(i)
	}
	var obs []observation
	rng := rand.New(rand.NewPCG(2, 31))
	for i := range 90 {
		obs = append(obs, observation{t: float64(i), y: truth(i) + 0.05*rng.NormFloat64(), se: 0.05})
	}
	for i, by := range map[int]float64{20: 15, 21: 15, 45: -3, 60: 15, 80: 150} {
		obs[i].y += by
	}
	for i, s := range trend(obs, 0) {
		if e := s.level - truth(i); math.Abs(e) > 1 {
			t.Errorf("at %d off by %.2f", i, e)
		}
	}
}

// TestTrendStartsAnew expects a step to stay a step where the series starts
// anew.
func TestTrendStartsAnew(t *testing.T) {
	var obs []observation
	rng := rand.New(rand.NewPCG(3, 31))
	for i := range 60 {
		step := 0.
		if i >= 30 {
			step = 10
		}
		obs = append(obs, observation{t: float64(i), y: step + 0.3*rng.NormFloat64(), se: 0.3, fresh: i == 30})
	}
	s := trend(obs, 0)
	if math.Abs(s[29].level) > 0.4 || math.Abs(s[30].level-10) > 0.4 {
		t.Errorf("%v before, %v after", s[29].level, s[30].level)
	}
}

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
