package fault

import (
	"math"
	"math/rand/v2"
	"testing"
)

// Both ways to the power at a frequency agree, at even and odd bins.
func TestSpectrumAgreesWithLines(t *testing.T) {
	r := rand.New(rand.NewPCG(1, 1))
	x := make([]float64, 301)
	for i := range x {
		x[i] = r.NormFloat64()
	}
	tp := applyTaper(x)
	tr := newTransformer(len(x))
	power := make([]float64, tr.size/2)
	tr.add(power, x, tp)
	for k := range power {
		l := lineSum{freq: float64(k) / float64(tr.size)}
		l.add(x, tp, 0, len(x))
		if got, want := power[k], l.line().power; math.Abs(got-want) > 1e-9*(1+want) {
			t.Fatalf("bin %d: %g, want %g", k, got, want)
		}
	}
}

// White noise has its variance as power everywhere.
func TestSpectrumOfWhiteNoise(t *testing.T) {
	r := rand.New(rand.NewPCG(2, 2))
	x := make([]float64, 20000)
	for i := range x {
		x[i] = 3 * r.NormFloat64()
	}
	tr := newTransformer(len(x))
	power := make([]float64, tr.size/2)
	tr.add(power, x, applyTaper(x))
	sum := 0.0
	for _, p := range power {
		sum += p
	}
	if mean := sum / float64(len(power)); math.Abs(mean-9) > 0.3 {
		t.Errorf("mean power %g, want 9", mean)
	}
}

// The amplitude of a line is that of the wave, and it is steady where the wave is.
func TestLine(t *testing.T) {
	for _, c := range []struct {
		name   string
		until  int
		steady bool
	}{{"whole run", 3000, true}, {"first third", 1000, false}} {
		x := make([]float64, 3000)
		for i := range x[:c.until] {
			x[i] = 2 * math.Cos(2*math.Pi*0.0371*float64(i)+0.5)
		}
		l := lineSum{freq: 0.0371}
		l.add(x, applyTaper(x), 0, len(x))
		a := l.line().amplitude()
		if c.steady && (math.Abs(real(a)-2*math.Cos(0.5)) > 1e-3 || math.Abs(imag(a)-2*math.Sin(0.5)) > 1e-3) {
			t.Errorf("%s: amplitude %v", c.name, a)
		}
		if got := l.line().steady(); got != c.steady {
			t.Errorf("%s: steady %v", c.name, got)
		}
	}
}

// The floor follows white noise, and a random walk of the rate beneath it; a
// strong line at the low end doesn't lift it.
func TestFloor(t *testing.T) {
	const size, length = 32768, 18000
	for name, shape := range map[string]func(turns float64) float64{
		"white": func(float64) float64 { return 1 },
		"red":   func(turns float64) float64 { return 1 + math.Pow(60/turns, 4) },
	} {
		r := rand.New(rand.NewPCG(3, 3))
		s := &spectrum{power: make([]float64, size/2), size: size, length: length}
		for k := range s.power {
			s.power[k] = shape(max(1, s.turns(k))) * r.ExpFloat64()
		}
		for i, lift := range []float64{1e3, 1e4, 3e4, 1e4, 1e3} {
			s.power[15+i] = lift * shape(9.3) // a line of 9.3 turns
		}
		s.weigh(1, lowestTurns, length/2)
		for _, turns := range []float64{8, 9.3, 12, 20, 60, 200, 1000, 8000} {
			if got, want := s.floor.at(turns), shape(turns); got < 0.5*want || got > 1.7*want {
				t.Errorf("%s: floor at %g turns: %g, want %g", name, turns, got, want)
			}
		}
		if s.evidence[17] < clearLine {
			t.Errorf("%s: evidence of the line: %g", name, s.evidence[17])
		}
	}
}

func TestCommon(t *testing.T) {
	for _, c := range []struct {
		list []int
		want int
	}{{[]int{1}, 1}, {[]int{2, 4}, 2}, {[]int{3, 6, 9, 40}, 1}, {[]int{12, 18}, 6}, {nil, 0}} {
		if got := common(c.list); got != c.want {
			t.Errorf("common(%v) = %d, want %d", c.list, got, c.want)
		}
	}
}
