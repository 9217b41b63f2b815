package beat

import (
	"math"
	"math/rand/v2"
	"testing"
)

// wound returns marks, in frames, of a pendulum just wound at 16 kHz: its interval grows by a
// seventh of the scatter from beat to beat, and its beat error by a whole one, both ever slower.
func wound(n int, sigma float64, r *rand.Rand) (marks []float64, mark func(i int) float64) {
	const tau, b, fades = 16000.0, 330.0, 80.0
	mark = func(i int) float64 {
		x := float64(i)
		faded := fades * (1 - math.Exp(-x/fades))
		return tau*x + 0.15*sigma*fades*(x-faded) + float64(i%2)*(b+sigma*faded)
	}
	for i := range n {
		marks = append(marks, mark(i)+sigma*r.NormFloat64())
	}
	return marks, mark
}

// TestFromFullWind foretells the beats of a pendulum just wound from the first on, by what the
// marks that its sound was learned from say of interval and beat error.
func TestFromFullWind(t *testing.T) {
	const sigma, n = 0.5, 200
	r := rand.New(rand.NewPCG(5, 11))
	for range 20 {
		marks, mark := wound(n, sigma, r)
		e := &soundModel{period: 32000}
		for i, at := range marks[:60] {
			e.beats = append(e.beats, beatMark(at, i))
		}
		p, ok := e.pace(0)
		if !ok {
			t.Fatal("no pace")
		}
		k := newKalman(marks[0], p.tau, p.b, sigma, 2*sigma)
		k.grows, k.gains = p.grows, p.gains
		k.wound()
		for i := 1; i < n; i++ {
			k.step(1)
			if due, sd := k.expect(i % 2); math.Abs(mark(i)-due) > 6*sigma || sd > 5*sigma {
				t.Fatalf("beat %d is off by %.2f ± %.2f frames, where single beats scatter by %.1f", i, mark(i)-due, sd, sigma)
			}
			k.update(i%2, marks[i])
		}
	}
}

func beatMark(at float64, i int) mark { return mark{at, i % 2} }

// TestBegins tells where values that grow evenly begin, one of them out of place, and takes a few
// to be alike.
func TestBegins(t *testing.T) {
	even := []float64{5, 5.5, 6, 90, 7, 7.5, 8, 8.5, 9, 9.5, 10, 10.5}
	if first, grows := begins(even); math.Abs(first-5) > 0.5 || math.Abs(grows-0.5) > 0.1 {
		t.Errorf("from %.2f by %.2f, want from 5 by 0.5", first, grows)
	}
	if first, grows := begins([]float64{5, 6, 7}); first != 6 || grows != 0 {
		t.Errorf("three values: from %.2f by %.2f, want 6 and 0", first, grows)
	}
}

// TestIntervalThatGains: a step of many beats moves the state as as many single ones do, and back
// again; reversed, it goes the same way.
func TestIntervalThatGains(t *testing.T) {
	start := newKalman(100, 7000, 20, 1, 2)
	start.grows, start.gains = 0.3, 0.2
	start.wound()
	one, many := *start, *start
	for range 40 {
		one.step(1)
	}
	many.step(40)
	for name, d := range map[string]float64{"x": one.x - many.x, "tau": one.tau - many.tau, "b": one.b - many.b, "gains": one.gains - many.gains} {
		if math.Abs(d) > 1e-6 {
			t.Errorf("%s differs by %g", name, d)
		}
	}
	if many.step(-40); math.Abs(many.x-start.x) > 1e-6 || math.Abs(many.tau-start.tau) > 1e-9 {
		t.Errorf("back at %.3f and %.3f, want %.3f and %.3f", many.x, many.tau, start.x, start.tau)
	}
	back := one
	back.reverse()
	back.step(1)
	before := one
	before.step(-1)
	// What tau gains passes forwards: going back, that is neglected.
	if math.Abs(back.x-before.x) > 0.01 || math.Abs(back.b-before.b) > 1e-9 {
		t.Errorf("reversed, the beat before is at %.3f with %.3f, want %.3f with %.3f", back.x, back.b, before.x, before.b)
	}
}

// TestCoincide: sounds that set in where those before them did, moved by three blocks, coincide
// there, and nowhere else.
func TestCoincide(t *testing.T) {
	row := func(at ...int) []float32 {
		x := make([]float32, 40)
		for i, p := range at {
			x[p] = float32(i + 1)
		}
		return x
	}
	then, now := [2][]float32{row(10, 14, 25), row(11, 15, 26)}, [2][]float32{row(13, 17, 28), row(14, 18, 29)}
	for by := -15; by <= 15; by++ {
		if c := coincide(then, now, by); by == 3 && math.Abs(c-1) > 1e-6 || by != 3 && c > 0.9 {
			t.Errorf("moved by %d: %.2f", by, c)
		}
	}
	if c := coincide(then, [2][]float32{}, 0); c != 0 {
		t.Errorf("with nothing: %.2f", c)
	}
}

// TestScatterOfBothSides: where one side's marks are now of one cycle of its sound, now of
// another, the scatter is that of the other side; where the room is why, it is not.
func TestScatterOfBothSides(t *testing.T) {
	const sigma = 2.0
	for _, c := range []struct {
		name      string
		cycle     float64 // frames
		noise     float64 // of side 1, frames
		from, to  float64 // frames
		blur, snr float64
	}{
		{"both alike", 0, 0, 1.5, 2.5, 10, 30},
		{"another cycle", 40, 0, 1.5, 3, 10, 30},
		{"the room", 0, 6, 3, 6, 150, 25},
	} {
		r := rand.New(rand.NewPCG(5, 12))
		var found [2][]float64
		for i := range 120 {
			at := 8000*float64(i) + sigma*r.NormFloat64()
			if i%2 == 1 {
				at += c.noise*r.NormFloat64() + c.cycle*float64(r.IntN(3))
			}
			found[i%2] = append(found[i%2], at)
		}
		l := &learner{rate: 44100, period: 16000}
		e := &soundModel{templates: [2]*template{{blur: 1, snr: 30}, {blur: c.blur, snr: c.snr}}}
		if got := l.common(found, e); got < c.from || got > c.to {
			t.Errorf("%s: %.2f frames, want %.1f to %.1f", c.name, got, c.from, c.to)
		}
	}
}
