package recorder

import (
	"math"
	"math/rand/v2"
	"slices"
	"testing"

	"rundown/dsp/wavio"
)

// TestChanges steps the level, the offset or the hum of a noisy room after some
// seconds, and expects to be told of that alone, when and by how much.
func TestChanges(t *testing.T) {
	const rate, seconds, at = 16000, 120, 63
	room := func(i int, rng *rand.Rand) float64 { return 0.01 * rng.NormFloat64() }
	tone := func(i int, hz, power float64) float64 {
		return math.Sqrt(2*power) * math.Sin(2*math.Pi*hz*float64(i)/rate)
	}
	for _, c := range []struct {
		name               string
		change             func(i int, x float64) float64 // from then on
		rooms, offset, hum float64                        // dB
	}{
		{name: "nothing", change: func(_ int, x float64) float64 { return x }},
		{name: "gain", change: func(_ int, x float64) float64 { return 0.2 * x }, rooms: -14, hum: math.NaN()},
		{name: "a little gain", change: func(_ int, x float64) float64 { return 0.6 * x }},
		{name: "offset", change: func(_ int, x float64) float64 { return x + 0.03 }, offset: 26.4},
		{name: "hum", change: func(i int, x float64) float64 { return x + tone(i, 100, 1e-3) }, hum: 20},
	} {
		rng := rand.New(rand.NewPCG(3, 9))
		m := NewMeter(rate)
		x := make([]float32, rate)
		var levels []Level
		for s := range seconds {
			for k := range x {
				i := s*rate + k
				v := room(i, rng) + 0.0015 + tone(i, 50, 1e-5)
				if s >= at {
					v = c.change(i, v)
				}
				x[k] = float32(v)
			}
			w := wavio.Floats(slices.Clone(x))
			levels = append(levels, m.Take(w, w.Differences(nil, 2, 1, 16)))
		}
		hums, hz := Hums(levels)
		for _, level := range []struct {
			name   string
			got    []Change
			want   float64
			within int // s
		}{{"room", Rooms(levels), c.rooms, 0}, {"offset", Offsets(levels), c.offset, 0}, {"hum", hums, c.hum, seldom}} {
			switch {
			case math.IsNaN(level.want):
			case level.want == 0 && len(level.got) == 0:
			case level.want == 0 || len(level.got) != 1 || math.Abs(level.got[0].By-level.want) > 2.5 || max(level.got[0].At-at, at-level.got[0].At) > level.within:
				t.Errorf("%s: %s %+v, want %g dB at %d", c.name, level.name, level.got, level.want, at)
			}
		}
		if hz != 50 {
			t.Errorf("%s: mains of %g Hz", c.name, hz)
		}
	}
}
