package contacts

import (
	"cmp"
	"math"
	"math/rand/v2"
	"slices"
	"testing"

	"rundown/dsp/filter"
)

// TestLeastSudden counts how often the sum of the squares of normal values, of
// those above 0, exceeds the bound.
func TestLeastSudden(t *testing.T) {
	const trials = 200000
	rng := rand.New(rand.NewPCG(3, 4))
	for _, n := range []int{1, 2, 3, 4, 6} {
		least := leastSudden(n, swells)
		over := 0
		for range trials {
			var sum float64
			for range n {
				if z := rng.NormFloat64(); z > 0 {
					sum += z * z
				}
			}
			if sum > least {
				over++
			}
		}
		// ± 4 standard errors of the count.
		if got, near := float64(over)/trials, 4*math.Sqrt(swells/trials); math.Abs(got-swells) > near {
			t.Errorf("%d bands: a bound of %.2f is exceeded in %.4f, want %.4f ± %.4f", n, least, got, swells, near)
		}
	}
}

// TestOnset lets sounds of all sorts set in within noise, and asks that the place be as
// near as can be, and its error one that holds.
func TestOnset(t *testing.T) {
	const n, at, trials = 80, 47, 200
	for name, c := range map[string]struct {
		sound func(i int) float64 // from its first frame on
		rms   float64             // frames
	}{
		"a burst of noise 20 dB above": {nil, 1},
		"a ringing sound":              {func(i int) float64 { return 30 * math.Exp(-float64(i)/40) * math.Cos(0.7*float64(i)) }, 0.5},
		"one that swells":              {func(i int) float64 { return 30 * math.Min(float64(i+1)/8, 1) * math.Cos(0.7*float64(i)) }, 2.7},
		"a weak one":                   {func(i int) float64 { return 5 * math.Exp(-float64(i)/40) * math.Cos(0.7*float64(i)) }, 2.6},
	} {
		rng := rand.New(rand.NewPCG(5, 6))
		square, holds := 0., 0
		for range trials {
			x := make([]float32, n)
			for i := range x {
				x[i] = float32(rng.NormFloat64())
				if i >= at {
					if c.sound == nil {
						x[i] *= 10
					} else {
						x[i] += float32(c.sound(i - at))
					}
				}
			}
			e := onset(x, 20, 75)
			square += (e.at - at) * (e.at - at) / trials
			if math.Abs(e.at-at) < 3*e.se {
				holds++
			}
		}
		t.Logf("%s: off by %.2f frames, within 3 standard errors in %d of %d", name, math.Sqrt(square), holds, trials)
		if math.Sqrt(square) > c.rms || holds < trials*97/100 {
			t.Errorf("%s: off by %.2f frames, want at most %g, and within 3 standard errors in %d of %d", name, math.Sqrt(square), c.rms, holds, trials)
		}
	}
}

// TestSharpest keeps of very many arrivals those that set in most suddenly, in order.
func TestSharpest(t *testing.T) {
	var as []arrival
	for i := range 2000 {
		as = append(as, arrival{at: float64(i), sudden: float64(i * 7 % 2000)})
	}
	got := sharpest(as)
	if len(got) != 24 || !slices.IsSortedFunc(got, func(a, b arrival) int { return cmp.Compare(a.at, b.at) }) {
		t.Fatalf("%d arrivals, %v", len(got), got)
	}
	for _, a := range got {
		if a.sudden < 2000-24 {
			t.Errorf("%v is not among the sharpest", a)
		}
	}
}

// TestUsual has a faint sound in the noise of blocks of two beats, whose standard deviation is
// three times as much (χ², of twenty degrees of freedom): all beats have it, or one in ten has
// ten times as much.
func TestUsual(t *testing.T) {
	const blocks, beats, mean = 4000, 2, 0.5
	for _, c := range []struct {
		name string
		has  func(k int) float64
		want bool
	}{
		{"all", func(int) float64 { return mean }, true},
		{"one in ten", func(k int) float64 {
			if k%10 == 0 {
				return 10 * mean
			}
			return 0
		}, false},
	} {
		r := rand.New(rand.NewPCG(4, 2))
		s := &sheet{rate: 48000, hop: 5, bins: 20, bands: []*filter.Band{nil}, blocks: make([]Block, blocks)}
		s.power[0] = [][][]float32{make([][]float32, blocks)}
		o := outline{scale: make([]float64, blocks)}
		for k := range blocks {
			o.scale[k] = 1
			s.blocks[k].Sides[0].Beats = beats
			s.power[0][0][k] = make([]float32, s.bins)
			noise := 0.0
			for range 10 {
				noise += 3 * mean / math.Sqrt(10) * (r.ExpFloat64() - 1)
			}
			for i := range s.bins {
				s.power[0][0][k][i] = float32(1 + beats*(c.has(k)+noise)/float64(s.span(afterSeconds)))
			}
		}
		if got := s.usual(0, 5, o); got != c.want {
			t.Errorf("%s: %v", c.name, got)
		}
	}
}

// TestNothingArrivesWhereAStackBegins: what is heard from the first bins on rings on from the beat
// before, however quiet it is after it; from ten milliseconds on, it sets in.
func TestNothingArrivesWhereAStackBegins(t *testing.T) {
	for _, c := range []struct {
		at   int // bin
		want int // sounds beside the drop
	}{{14, 0}, {60, 0}, {200, 1}} {
		s := &sheet{rate: 20000, period: 0.4, pre: 600, hop: 2, bins: 600, blocks: []Block{{Sides: [2]Stack{{Beats: 100}, {Beats: 100}}}}}
		o := outline{[]float64{1}, make([]float64, s.bins), make([]float64, s.bins), make([]float64, s.bins)}
		for band := range 4 {
			s.bands = append(s.bands, filter.NewBand(1500*float64(band+1), 1, s.rate))
			power := make([]float32, s.bins)
			for i := range power {
				power[i] = 1
			}
			for i := range 6 {
				power[c.at+i] += 10
				power[450+i] += 1000
			}
			s.power[0] = append(s.power[0], [][]float32{power})
		}
		for i := range o.sd {
			o.sd[i] = 0.01
		}
		for i := range 4 {
			o.level[c.at+i], o.level[450+i] = 0.4, 40
		}
		o.sudden[c.at], o.sudden[450] = 6, 300
		if got := s.arrivalsBeside(0, [2]outline{o, o}, math.NaN()); len(got) != 1+c.want {
			t.Errorf("from bin %d: %d sounds beside the drop, want %d", c.at, len(got)-1, c.want)
		}
	}
}

// TestPredictionError has sounds that are foretold too well, and none.
func TestPredictionError(t *testing.T) {
	tone, silence := make([]float64, whitening+1), make([]float64, whitening+1)
	for lag := range tone {
		tone[lag] = math.Cos(0.3*float64(lag)) * (1 + 1e-6*float64(lag%3-1))
	}
	for name, r := range map[string][]float64{"a tone, rounded": tone, "silence": silence} {
		for _, v := range predictionError(r).taps {
			if v := float64(v); math.IsNaN(v) || math.IsInf(v, 0) {
				t.Errorf("%s: a tap of %g", name, v)
			}
		}
	}
}
