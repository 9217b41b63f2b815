package onset

import (
	"math"
	"testing"
)

// ringing adds a sound that rings slowly away.
func ringing(x []float64, at, gain float64) { ring(x, at, gain, 5200) }

// TestLikeliest asks for a sound about nine times as strong as the room, or two of
// them that are alike. What is due decides between places that are nearly alike,
// but no expectation outweighs a sound that is plainly somewhere else.
func TestLikeliest(t *testing.T) {
	template := make([]float64, 240)
	ringing(template, 0, 1)
	m := NewMatcher(flat(t), template, math.MaxInt, 0, 300)
	for _, c := range []struct {
		name   string
		sounds map[float64]float64 // gain by place, frames after 1000
		due    float64             // likewise
		sd     float64             // frames
		also   float64             // likewise
		want   float64             // frames after 1000
	}{
		{"in its place", map[float64]float64{0: 0.02}, 0.4, 2, 0, 0},
		{"its place not known well", map[float64]float64{0: 0.02}, 20, 40, 0, 0},
		{"a like one, a little louder, out of place", map[float64]float64{0: 0.02, 150: 0.0204}, 0, 3, 0, 0},
		{"two that are alike, the second due", map[float64]float64{0: 0.02, 150: 0.02}, 149, 3, 0, 150},
		{"a like one where neither is expected", map[float64]float64{0: 0.02, 150: 0.0204}, 0, 500, 0, 150},
		// Only what may be taken for the sound is compared with it: a louder one elsewhere is another.
		{"one twice as loud, out of place", map[float64]float64{0: 0.02, 150: 0.04}, 0, 3, 0, 0},
		{"displaced", map[float64]float64{150: 0.02}, 0, 2, 0, 150},
		{"two that are alike, the second where the last beat strayed to", map[float64]float64{0: 0.02, 150: 0.0204}, 0, 3, 150, 150},
		{"displaced the other way", map[float64]float64{-170.5: 0.02}, 0, 2, 0, -170.5},
	} {
		x := make([]float64, 4096)
		for at, gain := range c.sounds {
			ringing(x, 1000+at, gain)
		}
		got, ok := m.Likeliest(single(x), 0, 1000+c.due, c.sd, c.also, 200, 1)
		if !ok || math.Abs(got.Frame-1000-c.want) > 0.2 {
			t.Errorf("%s: found %.2f frames off, want %g", c.name, got.Frame-1000, c.want)
		}
	}
	if _, ok := m.Likeliest(make([]float32, 100), 0, 50, 2, 0, 20, 1); ok {
		t.Error("found on a tape that does not hold the sound")
	}
}

// TestLikeliestOfALouderSound has a sound displaced by as much as where it resembles itself by a
// third, and louder than usual: what is due there is none of it.
func TestLikeliestOfALouderSound(t *testing.T) {
	template := make([]float64, 240)
	hz := []float64{1140, 4600, 9000}
	ring(template, 0, 1, hz...)
	m := NewMatcher(flat(t), template, math.MaxInt, 0, 300)
	m.resemble()
	for i, alike := range m.resembles {
		if alike > 0.45 {
			t.Fatalf("the sound resembles itself by %.2f", alike)
		}
		by := float64(m.alike[2*i]) / float64(m.parts)
		x := make([]float64, 4096)
		ring(x, 1000+by, 0.03, hz...)
		if got, ok := m.Likeliest(single(x), 0, 1000, 3, 0, 200, 1); !ok || math.Abs(got.Frame-1000-by) > 0.2 {
			t.Errorf("found %.2f frames off, want %.1f", got.Frame-1000, by)
		}
	}
}

// TestLikeliestWithinReach has a like sound out of place that the evidence says is nine nats
// likelier: it is taken where a beat that is out of place could be nowhere else, and not where
// it might be in forty places as well, and only one is due.
func TestLikeliestWithinReach(t *testing.T) {
	template := make([]float64, 240)
	ringing(template, 0, 1)
	m := NewMatcher(flat(t), template, math.MaxInt, 0, 300)
	x := make([]float64, 8192)
	ringing(x, 3000, 0.02)
	ringing(x, 3150, 0.02)
	in, _ := m.Near(single(x), 0, 3000, 20)
	gain := 0.02 * math.Sqrt(1+2*9/(in.SNR*in.SNR))
	x = make([]float64, 8192)
	ringing(x, 3000, 0.02)
	ringing(x, 3150, gain)
	for _, c := range []struct {
		within int
		want   float64
	}{{160, 3150}, {1600, 3000}} {
		// That the last beat strayed by a frame looks everywhere.
		if got, ok := m.Likeliest(single(x), 0, 3000, 30, 1, c.within, 1); !ok || math.Abs(got.Frame-c.want) > 2 {
			t.Errorf("within %d frames: found at %.1f, want %g", c.within, got.Frame, c.want)
		}
	}
}

// TestLikeliestInALoudRoom raises the noise: the louder the room, the more what
// is due counts.
func TestLikeliestInALoudRoom(t *testing.T) {
	template := make([]float64, 240)
	ringing(template, 0, 1)
	m := NewMatcher(flat(t), template, math.MaxInt, 0, 100)
	// A cycle farther off a sound that rings is nearly alike.
	const cycle = 48000. / 5200
	slips := map[float64]int{}
	for _, noise := range []float64{1, 4} {
		for seed := range uint64(300) {
			x := noisy(2048, 0.04, 900+seed)
			ringing(x, 1000, 0.1)
			if got, ok := m.Likeliest(single(x), 0, 1000, 2.5, 0, 40, noise); !ok || math.Abs(got.Frame-1000) > cycle/2 {
				slips[noise]++
			}
		}
	}
	t.Logf("a cycle skipped %v times of 300", slips)
	if slips[1] == 0 || slips[4] >= slips[1]/2 {
		t.Errorf("a cycle is skipped %d times of 300 where the room is told to be loud, %d where it is not", slips[4], slips[1])
	}
}

// TestBlur compares the scatter of marks with the Cramér-Rao bound, far enough
// above the noise for it to hold.
func TestBlur(t *testing.T) {
	for name, hz := range map[string][]float64{"low": {2500}, "high": {9000}, "two modes": {3100, 8300}} {
		template := make([]float64, 240)
		ring(template, 0, 1, hz...)
		m := NewMatcher(flat(t), template, math.MaxInt, 0, 100)
		var off []float64
		var snr float64
		const n = 400
		for seed := range uint64(n) {
			x := noisy(2048, 0.01, 2000+seed)
			ring(x, 1000.3, 0.3, hz...)
			got, ok := m.Likeliest(single(x), 0, 1000, 3, 0, 8, 1)
			if !ok {
				t.Fatal("not found")
			}
			off, snr = append(off, got.Frame-1000.3), snr+got.SNR/n
		}
		// A standard deviation of n values is good to 1/√(2n), 3.5 %.
		if r := deviation(off) / (m.Blur() / snr); r < 0.88 || r > 1.15 {
			t.Errorf("%s: marks scatter by %.4f frames, %.2f times the bound of %.4f", name, deviation(off), r, m.Blur()/snr)
		}
	}
}

// TestUnlike compares a ringing sound with its template: as it is, in the room's noise, and with
// a note under it that the template lacks, a tenth as loud.
func TestUnlike(t *testing.T) {
	template := make([]float64, 240)
	ringing(template, 0, 1)
	const room = 0.01 // that of flat, root mean square
	m := NewMatcher(flat(t), template, math.MaxInt, 0, 300)
	of := func(gain, noise, note float64, seed uint64) float64 {
		x := noisy(4096, noise, seed)
		ringing(x, 1000, gain)
		for i := range x[900:1500] {
			x[900+i] += note * math.Sin(2*math.Pi*4600*float64(i)/testRate)
		}
		f, ok := m.Near(single(x), 0, 1000, 20)
		if !ok {
			t.Fatal("no match")
		}
		return m.Unlike(single(x), 0, f)
	}
	if got := math.Sqrt(math.Abs(of(20, 0, 0, 0))); got > 0.01 {
		t.Errorf("as it is: unlike by %.4f", got)
	}
	const trials = 400
	noise := 0.0
	for seed := range uint64(trials) {
		noise += of(0.2, room, 0, seed) / trials
	}
	if part := 1. / 60 / 60; math.Abs(noise) > part/4 { // of the height, the room has a sixtieth
		t.Errorf("in noise: unlike by a square of %.2g, where the room's is %.2g", noise, part)
	}
	if got := math.Sqrt(of(20, 0, 2, 0)); got < 0.03 || got > 0.3 {
		t.Errorf("with another note a tenth as loud: unlike by %.3f", got)
	}
}
