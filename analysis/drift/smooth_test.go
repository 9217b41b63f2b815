package drift

import (
	"math"
	"math/rand/v2"
	"testing"
)

func TestTrendOfLine(t *testing.T) {
	var obs []Observation
	for i := range 50 {
		obs = append(obs, Observation{Time: 60 * float64(i), Value: 3 - 0.01*60*float64(i), SE: 0.1})
	}
	for i, s := range Smooth(obs, 0) {
		if math.Abs(s.Level-obs[i].Value) > 1e-6 || math.Abs(s.Slope+0.01) > 1e-8 {
			t.Fatalf("at %v: %+v", obs[i].Time, s)
		}
	}
	if Smooth(nil, 0) != nil {
		t.Error("a trend of nothing")
	}
	if s := Smooth(obs[:1], 0); s[0].Level != 3 || s[0].LevelSE != 0.1 {
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
		var obs []Observation
		for at := 0.; at < 12000; at += 60 {
			if rng.Float64() < 0.1 {
				at += 600 * rng.Float64()
			}
			se := 0.2 + 0.6*rng.Float64()
			obs = append(obs, Observation{Time: at, Value: truth(at) + se*rng.NormFloat64(), SE: claimed * se})
		}
		for i, s := range Smooth(obs, 0) {
			e := s.Level - truth(obs[i].Time)
			if math.Abs(e) < 1.96*s.LevelSE {
				in++
			}
			all++
			raw = append(raw, obs[i].Value-truth(obs[i].Time))
			smooth = append(smooth, e)
		}
	}
	share, gain := float64(in)/float64(all), rms(raw)/rms(smooth)
	t.Logf("intervals hold the truth in %.3f, errors %.2f times smaller", share, gain)
	if share < 0.93 || share > 0.99 || gain < 2.5 {
		t.Errorf("intervals hold the truth in %.3f, errors %.2f times smaller", share, gain)
	}
}

// TestTrendErrorsAreLocal gives the last quarter of a course errors that are a tenth of
// the true ones: intervals hold there, and those of the rest do not suffer.
func TestTrendErrorsAreLocal(t *testing.T) {
	const n, bad, se, calm = 160, 120, 0.1, 5
	var in, all [2]int
	wider := 0.
	for seed := range uint64(60) {
		rng := rand.New(rand.NewPCG(seed, 34))
		truth := func(i int) float64 { return math.Sin(float64(i)/20 + float64(seed)) }
		obs, right := make([]Observation, n), make([]Observation, n)
		for i := range obs {
			obs[i] = Observation{Time: float64(i), Value: truth(i) + se*rng.NormFloat64(), SE: se}
			right[i] = obs[i]
			if i >= bad {
				obs[i].SE = se / 10
			}
		}
		of := Smooth(right, calm)
		for i, s := range Smooth(obs, calm) {
			part := 0
			if i >= bad {
				part = 1
			} else if i < bad-2*around {
				wider += s.LevelSE / of[i].LevelSE / float64(bad-2*around) / 60
			}
			all[part]++
			if math.Abs(s.Level-truth(i)) < 1.96*s.LevelSE {
				in[part]++
			}
		}
	}
	rest, end := float64(in[0])/float64(all[0]), float64(in[1])/float64(all[1])
	t.Logf("intervals hold in %.3f, at the end in %.3f; %.2f times as wide as with right errors there", rest, end, wider)
	if rest < 0.9 || end < 0.85 || wider > 1.5 {
		t.Errorf("intervals hold in %.3f, at the end in %.3f; %.2f times as wide as with right errors there", rest, end, wider)
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
	var obs []Observation
	rng := rand.New(rand.NewPCG(2, 31))
	for i := range 90 {
		obs = append(obs, Observation{Time: float64(i), Value: truth(i) + 0.05*rng.NormFloat64(), SE: 0.05})
	}
	for i, by := range map[int]float64{20: 15, 21: 15, 45: -3, 60: 15, 80: 150} {
		obs[i].Value += by
	}
	for i, s := range Smooth(obs, 0) {
		if e := s.Level - truth(i); math.Abs(e) > 1 {
			t.Errorf("at %d off by %.2f", i, e)
		}
	}
}

// steepEnds are ways in which a rate settles in the first minutes of a run, or
// leaves in the last, in s/day by windows from the end.
var steepEnds = map[string]func(u float64) float64{
	"dies away by e a window": func(u float64) float64 { return 30 * math.Exp(-u) },
	"dies away slowly":        func(u float64) float64 { return 30 * math.Exp(-u/3) },
	"parabola, three windows": func(u float64) float64 { return 30 * math.Pow(math.Max(0, 1-u/3), 2) },
	"straight, three windows": func(u float64) float64 { return 30 * math.Max(0, 1-u/3) },
	"pole":                    func(u float64) float64 { return 30 / (u + 0.7) },
	"square":                  func(u float64) float64 { return 100 / (u + 1) / (u + 1) },
}

// steepRun returns a run of windows 60 s wide that is steep at its start or end
// and nearly level otherwise, and the true means over its windows.
func steepRun(rng *rand.Rand, steep func(float64) float64, atEnd bool, se float64) ([]Observation, []float64) {
	const n, fine = 100, 100
	obs, truth := make([]Observation, n), make([]float64, n)
	sign := float64(2*rng.IntN(2) - 1)
	for i := range n {
		at := i
		if atEnd {
			at = n - 1 - i
		}
		for k := range fine {
			truth[i] += sign * steep(float64(at)+(float64(k)+0.5)/fine) / fine
		}
		truth[i] += 2 * math.Sin(float64(i)/40)
		obs[i] = Observation{Time: 60 * float64(i), Value: truth[i] + se*rng.NormFloat64(), SE: se}
	}
	return obs, truth
}

// TestTrendFollowsSteepEnds counts good windows that are left out, asks for the
// smoothed rate of those next to the end, and that the steepness there does not
// keep the rest from being smoothed.
func TestTrendFollowsSteepEnds(t *testing.T) {
	const runs = 20
	for name, steep := range steepEnds {
		for _, atEnd := range []bool{false, true} {
			for _, c := range []struct {
				se   float64
				lost int     // of the windows of all runs
				near float64 // error of the three next to the end, in standard errors
			}{{0.02, 1, 1.3}, {0.1, 1, 1.4}, {0.3, 6, 20}} {
				lost, near, far := 0, 0., 0.
				for seed := range uint64(runs) {
					obs, truth := steepRun(rand.New(rand.NewPCG(seed, 32)), steep, atEnd, c.se)
					for _, bad := range newSmoother(obs, 0).bad {
						if bad {
							lost++
						}
					}
					for i, s := range Smooth(obs, 0) {
						e := (s.Level - truth[i]) / c.se
						if i < 3 && !atEnd || i >= len(obs)-3 && atEnd {
							near += e * e / 3 / runs
						}
						if i >= 20 && i < len(obs)-20 {
							far += e * e / float64(len(obs)-40) / runs
						}
					}
				}
				if near, far = math.Sqrt(near), math.Sqrt(far); lost > c.lost || near > c.near || far > 0.5 {
					t.Errorf("%s, at its end %v, to %g s/day: %d good windows left out, errors of %.2f standard errors there, %.2f elsewhere",
						name, atEnd, c.se, lost, near, far)
				}
			}
		}
	}
}

// TestTrendLeavesOutBadEnds puts a bad figure in the first and last places of a
// gentle course.
func TestTrendLeavesOutBadEnds(t *testing.T) {
	const runs, se = 30, 0.1
	gentle := func(float64) float64 { return 0 }
	for _, place := range []int{0, 1, 2, 97, 98, 99} {
		for _, size := range []float64{8, 12, 30, 300} { // standard errors
			missed, off := 0, 0.
			for seed := range uint64(runs) {
				rng := rand.New(rand.NewPCG(seed, 33))
				obs, truth := steepRun(rng, gentle, false, se)
				obs[place].Value += size * se * float64(2*rng.IntN(2)-1)
				if !newSmoother(obs, 0).bad[place] {
					missed++
				}
				e := (Smooth(obs, 0)[place].Level - truth[place]) / se
				off += e * e / runs
			}
			if off = math.Sqrt(off); off > 2.3 || size >= 30 && missed > 1 {
				t.Errorf("%g standard errors at %d: not noticed in %d of %d, off by %.2f standard errors", size, place, missed, runs, off)
			}
		}
	}
}

// TestTrendStartsAnew expects a step to stay a step where the series starts
// anew.
func TestTrendStartsAnew(t *testing.T) {
	var obs []Observation
	rng := rand.New(rand.NewPCG(3, 31))
	for i := range 60 {
		step := 0.
		if i >= 30 {
			step = 10
		}
		obs = append(obs, Observation{Time: float64(i), Value: step + 0.3*rng.NormFloat64(), SE: 0.3, Fresh: i == 30})
	}
	s := Smooth(obs, 0)
	if math.Abs(s[29].Level) > 0.4 || math.Abs(s[30].Level-10) > 0.4 {
		t.Errorf("%v before, %v after", s[29].Level, s[30].Level)
	}
}

// rms returns the root mean square of x.
func rms(x []float64) float64 {
	var sum float64
	for _, v := range x {
		sum += v * v
	}
	return math.Sqrt(sum / float64(len(x)))
}

// Where all observations count, the last of a course that falls off at its end is no
// outlier.
func TestSmoothAllLeavesNothingOut(t *testing.T) {
	var obs []Observation
	for i, y := range []float64{655, 549, 508, 476, 442, 404, 355, 248} {
		obs = append(obs, Observation{Time: float64(i), Value: y, SE: 4})
	}
	for i, e := range SmoothAll(obs) {
		if math.Abs(e.Level-obs[i].Value) > 8 || !(e.LevelSE > 0) {
			t.Errorf("at %d: %.1f ± %.1f, observed %v", i, e.Level, e.LevelSE, obs[i].Value)
		}
	}
	if SmoothAll(nil) != nil {
		t.Error("something of nothing")
	}
}

// TestBetween compares with what the model knows of a time between two whose levels and
// slopes are known, where the slope changes by a standard deviation of its process noise.
func TestBetween(t *testing.T) {
	const apart, processNoise = 5., 0.3
	turn := math.Sqrt(processNoise * apart)
	from, to := Estimate{Level: 2, Slope: -1}, Estimate{Level: 1, Slope: -1 + turn}
	for _, after := range []float64{0.01, 1, 2.5, 4, 4.99} {
		start := State{Level: from.Level, Slope: from.Slope}
		now := start.After(after, processNoise)
		next := now.After(apart-after, processNoise)
		want := now.Back(now.Gain(apart-after, next), next, State{Level: to.Level, Slope: to.Slope})
		got := Between(from, to, apart, after)
		if !near(got.Level, want.Level) || !near(got.Slope, want.Slope) || !near(got.LevelSE, math.Sqrt(want.LevelVar)) || !near(got.SlopeSE, math.Sqrt(want.SlopeVar)) {
			t.Errorf("after %g of %g: %+v, want %+v", after, apart, got, want)
		}
	}
	for i, e := range []Estimate{Between(from, to, apart, 0), Between(from, to, apart, apart)} {
		if want := []Estimate{from, to}[i]; e != want {
			t.Errorf("at an end: %+v, want %+v", e, want)
		}
	}
	known := Estimate{Level: 1, LevelSE: 0.2, Slope: 0, SlopeSE: 0.1}
	if e := Between(known, known, 2, 1); !near(e.LevelSE, math.Sqrt(0.02+2*0.025*0.025)) {
		t.Errorf("half-way between two levels known to 0.2 and slopes known to 0.1: %v", e.LevelSE)
	}
}
