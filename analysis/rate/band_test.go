package rate

import (
	"math"
	"math/rand/v2"
	"slices"
	"sort"
	"testing"
)

// randomCourse returns a random course of a run's rate in s/day over u = 0 … 1: it
// settles, keeps a plateau with a slope and a bump, and falls away.
func randomCourse(rng *rand.Rand) func(u float64) float64 {
	start := 5 + 60*rng.Float64()
	settle := 0.02 + 0.15*rng.Float64()
	tilt := 8 * (rng.Float64() - 0.5)
	bump := 4 * (rng.Float64() - 0.5)
	knee := 0.5 + 0.4*rng.Float64()
	fall := 50 + 400*rng.Float64()
	power := 1.2 + 2*rng.Float64()
	sign := float64(2*rng.IntN(2) - 1)
	return func(u float64) float64 {
		r := sign*start*math.Exp(-u/settle) + tilt*u + bump*math.Sin(2*math.Pi*u)
		if u > knee {
			r -= fall * math.Pow((u-knee)/(1-knee), power)
		}
		return r
	}
}

// courseWindows makes windows of the rate, with noise of standard error se, and
// returns the noiseless ones beside them.
func courseWindows(rng *rand.Rand, n int, rate func(float64) float64, se float64) (noisy, clean []Window) {
	for i := range n {
		w := Window{Start: 60 * float64(i), End: 60 * float64(i+1), Beats: 300, Heard: 300}
		w.Smoothed.X = rate((float64(i) + 0.5) / float64(n))
		clean = append(clean, w)
		w.Rate = Value{w.Smoothed.X + se*rng.NormFloat64(), se}
		noisy = append(noisy, w)
	}
	return noisy, clean
}

// overlap returns intersection over union.
func overlap(a, b Band) float64 {
	in := math.Min(a.End, b.End) - math.Max(a.Start, b.Start)
	return math.Max(0, in) / (math.Max(a.End, b.End) - math.Min(a.Start, b.Start))
}

// TestBandOfRandomCourses uses seeds apart from those that the smoother was
// tried on.
func TestBandOfRandomCourses(t *testing.T) {
	const floor = 0.00864 // s/day: 30 µs scatter, 18 000 beats an hour, 60 s
	for _, c := range []struct {
		name        string
		se          float64
		bad         float64 // share of windows far out
		low, median float64 // overlap expected, at the 5 % quantile and the median
	}{
		{"30 µs", floor, 0, 0.95, 1},
		{"30 µs, bad windows", floor, 0.03, 0.95, 1},
		{"300 µs", 10 * floor, 0, 0.95, 1},
		{"3 ms", 100 * floor, 0, 0.75, 0.95},
	} {
		var got []float64
		for seed := range uint64(200) {
			rng := rand.New(rand.NewPCG(seed, 910))
			ws, clean := courseWindows(rng, 30+rng.IntN(220), randomCourse(rng), c.se)
			for i := range ws {
				if rng.Float64() < c.bad {
					ws[i].Rate.X += 50 * rng.NormFloat64()
				}
			}
			tolerance := 2 + 10*rng.Float64()
			Smooth(ws)
			truth, want := StableBand(clean, tolerance)
			band, ok := StableBand(ws, tolerance)
			switch {
			case want && ok:
				got = append(got, overlap(band, truth))
			case want != ok && math.Max(truth.End, band.End)-math.Max(truth.Start, band.Start) > 4*60:
				got = append(got, 0)
			}
		}
		slices.Sort(got)
		middle, low, worst := got[len(got)/2], got[len(got)/20], got[0]
		below := sort.SearchFloat64s(got, 0.95)
		t.Logf("%s: overlap median %.3f, 5 %% quantile %.3f, worst %.3f, %d of %d below 0.95", c.name, middle, low, worst, below, len(got))
		if low < c.low || middle < c.median {
			t.Errorf("%s: overlap median %.3f, 5 %% quantile %.3f", c.name, middle, low)
		}
	}
}

// windowsOf makes full windows of the smoothed rates given.
func windowsOf(rates ...float64) []Window {
	ws := make([]Window, len(rates))
	for i, r := range rates {
		ws[i] = Window{Start: 60 * float64(i), End: 60 * float64(i+1), Beats: 300, Heard: 300, Smoothed: Value{r, 0.1}, Rate: Value{r, 0.1}}
	}
	return ws
}

func TestStableBand(t *testing.T) {
	few := func(ws []Window, i int) []Window { ws[i].Heard = 149; return ws }
	stop := func(ws []Window, i int) []Window { ws[i].Stopped = true; return ws }
	none := func(ws []Window, i int) []Window { ws[i].Smoothed.X = math.NaN(); return ws }
	short := func(ws []Window) []Window { ws[len(ws)-1].End -= 30; return ws }
	for _, c := range []struct {
		name        string
		ws          []Window
		tolerance   float64
		first, last int // 0, 0: not found
	}{
		{"all", windowsOf(1, 2, 3, 4), 3, 0, 4},
		{"rise", windowsOf(0, 1, 2, 9, 9, 9, 9, 20), 2, 3, 7},
		{"width is of the whole, not from one to the next", windowsOf(0, 1, 2, 3, 4, 5), 3, 0, 4},
		{"steadier of two as long", windowsOf(0, 1, 2, 50, 60, 60, 60.5), 3, 4, 7},
		{"two windows", windowsOf(1, 1, 9, 20), 3, 0, 0},
		{"few heard", few(windowsOf(1, 1, 1, 1, 1, 1, 1), 3), 3, 0, 3},
		{"stop", stop(windowsOf(1, 1, 1, 1, 1, 1, 1), 2), 3, 3, 7},
		{"no rate", none(windowsOf(1, 1, 1, 1, 1, 1, 1), 2), 3, 3, 7},
		{"shorter last", short(windowsOf(1, 1, 1, 1)), 3, 0, 3},
		{"shorter last, then too few", short(windowsOf(1, 1, 1)), 3, 0, 0},
		{"nothing", nil, 3, 0, 0},
	} {
		b, ok := StableBand(c.ws, c.tolerance)
		if ok != (c.last > 0) || b.First != c.first || b.Last != c.last {
			t.Errorf("%s: %v, windows %d to %d, want %d to %d", c.name, ok, b.First, b.Last, c.first, c.last)
		}
	}
	b, _ := StableBand(windowsOf(0, 1, 2, 9), 2)
	if b.Start != 0 || b.End != 180 || b.Spread != 2 || b.Mean.X != 1 || math.Abs(b.Mean.SE-0.1/math.Sqrt(3)) > 1e-12 {
		t.Errorf("%+v", b)
	}
}

// TestStableBandAgainstAllStretches compares with trying every stretch.
func TestStableBandAgainstAllStretches(t *testing.T) {
	rng := rand.New(rand.NewPCG(8, 8))
	for range 500 {
		rates := make([]float64, 3+rng.IntN(40))
		for i := range rates {
			rates[i] = float64(rng.IntN(12))
		}
		ws := windowsOf(rates...)
		tolerance := float64(rng.IntN(8))
		longest, least := 0, 0.
		for i := range rates {
			lo, hi := rates[i], rates[i]
			for j := i; j < len(rates); j++ {
				lo, hi = math.Min(lo, rates[j]), math.Max(hi, rates[j])
				if n := j + 1 - i; hi-lo <= tolerance && (n > longest || n == longest && hi-lo < least) {
					longest, least = n, hi-lo
				}
			}
		}
		b, ok := StableBand(ws, tolerance)
		if ok != (longest >= leastBand) || ok && (b.Last-b.First != longest || b.Spread != least) {
			t.Fatalf("%v within %v: %+v, want %d windows, spread %v", rates, tolerance, b, longest, least)
		}
	}
}

func BenchmarkStableBand(b *testing.B) {
	rng := rand.New(rand.NewPCG(1, 910))
	ws, _ := courseWindows(rng, 11520, randomCourse(rng), 0.00864)
	Smooth(ws)
	for b.Loop() {
		StableBand(ws, 10)
	}
}

func BenchmarkSmooth(b *testing.B) {
	rng := rand.New(rand.NewPCG(1, 910))
	ws, _ := courseWindows(rng, 11520, randomCourse(rng), 0.00864)
	for b.Loop() {
		Smooth(ws)
	}
}

// TestTooShort: two whole windows and a part of one say nothing of how steady the
// rate is, whatever it is; three do.
func TestTooShort(t *testing.T) {
	for beats, want := range map[int]bool{250: true, 700: true, 890: true, 900: false, 1000: false} {
		tr := movement{seed: 3, interval: 0.2, beats: beats, scatter: 30e-6}.run()
		ws, a := tr.windows(60)
		r := a.Finish(ws, Settings{})
		if got := TooShort(ws); got != want || math.IsNaN(r.Spread) != want || math.IsNaN(r.Rate.X) {
			t.Errorf("%d beats: too short %v, spread %v, rate %v; want %v", beats, got, r.Spread, r.Rate.X, want)
		}
	}
}
