package synth

import (
	"math"
	"testing"
)

func TestRandomMovements(t *testing.T) {
	var slow, fast, uneven, unequal int
	const seeds = 300
	for seed := range uint64(seeds) {
		r := Random(seed, 600, 20)
		if err := r.Check(); err != nil {
			t.Fatalf("seed %d: %v", seed, err)
		}
		truth := r.Truth()
		m := r.Movement
		if m.BeatsPerHour < 1200 || m.BeatsPerHour > 43200 {
			t.Errorf("seed %d: %g beats an hour", seed, m.BeatsPerHour)
		}
		near(t, "beats", float64(len(truth.Beats)), m.BeatsPerHour/6, 3+m.BeatsPerHour/6*0.01)
		part := math.Abs(m.BeatError) / m.Interval()
		if part > 1./3 {
			t.Errorf("seed %d: a beat error of %g intervals", seed, part)
		}
		for name, hit := range map[*int]bool{&slow: m.BeatsPerHour < 5000, &fast: m.BeatsPerHour > 28800, &uneven: part > 0.1, &unequal: math.Abs(r.Sound.TockLevel) > 10} {
			if hit {
				*name++
			}
		}
	}
	for name, n := range map[string]int{"slow": slow, "fast": fast, "out of beat": uneven, "of unequal loudness": unequal} {
		if n < seeds/30 || n > seeds/2 {
			t.Errorf("%d of %d movements are %s", n, seeds, name)
		}
	}
}

func TestRandomIsDetermined(t *testing.T) {
	a, b := Random(5, 60, 20).Truth(), Random(5, 60, 20).Truth()
	if a.Beats[9] != b.Beats[9] {
		t.Error("one seed gives two movements")
	}
}
