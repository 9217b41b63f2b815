package stats

import (
	"math"
	"math/rand/v2"
	"slices"
	"testing"
)

// The hours of sleep that ten patients gained by two drugs: Student, The
// Probable Error of a Mean, Biometrika 6 (1908), from memory. Taken as two
// samples, t is 1.8608 with 18 degrees of freedom and p 0.0792, and the interval
// of the difference reaches from −0.204 to 3.364 hours, as textbooks have it (from
// memory).
func TestPoolStudentsSleep(t *testing.T) {
	first := []float64{0.7, -1.6, -0.2, -1.2, -0.1, 3.4, 3.7, 0.8, 0.0, 2.0}
	second := []float64{1.9, 0.8, 1.1, 0.1, -0.1, 4.4, 5.5, 1.6, 4.6, 3.4}
	g := Pool(first, second)
	d := Mean(second) - Mean(first)
	for _, c := range []struct {
		what                 string
		got, want, tolerance float64
	}{
		{"difference", d, 1.58, 1e-12}, {"degrees of freedom", g.Freedom, 18, 0}, {"t", d / g.SE, 1.8608, 5e-5},
		{"p", g.Doubt().Beyond(d), 0.07919, 5e-6}, {"low end", d - g.Doubt().Half(), -0.203874, 1e-6}, {"high end", d + g.Doubt().Half(), 3.363874, 1e-6},
	} {
		if !(math.Abs(c.got-c.want) <= c.tolerance) {
			t.Errorf("%s is %v, want %v", c.what, c.got, c.want)
		}
	}
}

// C. Darwin's fifteen pairs of maize, crossed and self-fertilised, in eighths of
// an inch, as R. A. Fisher treats them in The Design of Experiments (1935),
// section 17 (from memory): the mean difference is 20.93 and t, of the pairs,
// 2.148. As two samples the difference is the same and t 2.437 with 28 degrees of
// freedom.
func TestPoolDarwinsMaize(t *testing.T) {
	crossed := []float64{188, 96, 168, 176, 153, 172, 177, 163, 146, 173, 186, 168, 177, 184, 96}
	selfed := []float64{139, 163, 160, 160, 147, 149, 149, 122, 132, 144, 130, 144, 102, 124, 144}
	g := Pool(selfed, crossed)
	d := Mean(crossed) - Mean(selfed)
	if math.Abs(d-314./15) > 1e-9 || g.Freedom != 28 || math.Abs(d/g.SE-2.437) > 5e-4 {
		t.Errorf("difference %v, t %v with %v degrees of freedom", d, d/g.SE, g.Freedom)
	}
}

func TestPoolWithoutRepeats(t *testing.T) {
	if g := Pool([]float64{3}, []float64{4}); g.Freedom != 0 || !math.IsNaN(g.SE) || !math.IsNaN(g.SD) {
		t.Errorf("one of either: %+v", g)
	}
	if g := Pool([]float64{3}, []float64{4, 6}); g.Freedom != 1 || math.Abs(g.SD-math.Sqrt2) > 1e-12 || math.Abs(g.SE-math.Sqrt(3)) > 1e-12 {
		t.Errorf("one and two: %+v", g)
	}
}

// Figures that do not scatter leave no doubt about their difference.
func TestPoolWithoutScatter(t *testing.T) {
	d := Pool([]float64{3, 3}, []float64{3, 3, 3}).Doubt()
	if d.Half() != 0 || d.Beyond(0) != 1 || d.Beyond(1) != 0 {
		t.Errorf("half-width %v, p of no difference %v, of one %v", d.Half(), d.Beyond(0), d.Beyond(1))
	}
}

// The power is the share of trials that show the difference.
func TestPower(t *testing.T) {
	rng := rand.New(rand.NewPCG(41, 42))
	const trials = 4000
	for _, c := range []struct {
		difference float64
		n          int
		alpha      float64
	}{{2, 3, 0.05}, {2, 6, 0.0036}, {1, 12, 0.01}, {0, 4, 0.05}} {
		shown := 0
		for range trials {
			a, b := make([]float64, c.n), make([]float64, c.n)
			for i := range a {
				a[i], b[i] = rng.NormFloat64(), c.difference+rng.NormFloat64()
			}
			if Pool(a, b).Doubt().Beyond(Mean(b)-Mean(a)) <= c.alpha {
				shown++
			}
		}
		got, share := Power(c.difference, c.n, c.alpha), float64(shown)/trials
		if math.Abs(got-share) > 3*math.Sqrt(share*(1-share)/trials)+0.002 {
			t.Errorf("%+v: power %v, shown in %v of the trials", c, got, share)
		}
	}
}

// J. Cohen's table of sample sizes, Statistical Power Analysis for the Behavioral
// Sciences (1988), section 2.4 (from memory): for a power of 0.80 at 5 % on both
// sides it takes 26 of either for a difference of 0.8 standard deviations, 64
// for 0.5.
func TestRepeats(t *testing.T) {
	for difference, want := range map[float64]int{0.8: 26, 0.5: 64, -0.5: 64, 0.01: 0, 0: 0} {
		if got := Repeats(difference, 0.05, 0.8, 99); got != want {
			t.Errorf("a difference of %v takes %d, want %d", difference, got, want)
		}
	}
	if got := Repeats(100, 0.05, 0.8, 99); got != 2 {
		t.Errorf("a plain difference takes %d", got)
	}
}

func TestHolm(t *testing.T) {
	nan := math.NaN()
	cases := []struct {
		p, weights []float64
		want       []bool
	}{
		{[]float64{0.01, 0.04, 0.03, 0.005}, []float64{1, 1, 1, 1}, []bool{true, false, false, true}}, // 0.03 > 0.05/2
		{[]float64{0.03, 0.02, nan}, []float64{1, 1, 1}, []bool{true, true, false}},
		{[]float64{0.04, 0.005}, []float64{4, 1}, []bool{true, true}},
		{[]float64{0.04, 0.011}, []float64{4, 1}, []bool{true, true}}, // once the heavy one is rejected, its share passes on
		{[]float64{0.041, 0.011}, []float64{4, 1}, []bool{false, false}},
		{nil, nil, []bool{}},
	}
	for i, c := range cases {
		if got := Holm(c.p, c.weights, 0.05); !slices.Equal(got, c.want) {
			t.Errorf("case %d: %v, want %v", i, got, c.want)
		}
	}
}
