package contacts

import (
	"math"
	"testing"
)

// TestRidges has a sound that stays after the mark of one side, and a weaker one that moves away
// before it: both are followed, the clearer one first, so that the other can be taken where that
// turns out to be no sound of the movement's.
func TestRidges(t *testing.T) {
	const blocks, seconds = 200, 600
	s := &sheet{rate: 20000, period: 1.33, pre: 1200, hop: 2, bins: 1200}
	var onsets [2][][]float32
	moving := func(k int) float64 { return -400 - 200*float64(k)/blocks }
	for k := range blocks {
		at := seconds * s.rate * float64(k) / blocks
		s.blocks = append(s.blocks, Block{Sides: [2]Stack{{Time: at, Beats: 2}, {Time: at, Beats: 2}}})
		for side := range onsets {
			onsets[side] = append(onsets[side], make([]float32, s.bins))
		}
		onsets[0][k][s.bin(0, 80)] = 4
		onsets[0][k][s.bin(0, moving(k))] = 3
	}
	got := s.ridges(onsets)
	if len(got) < 2 || got[0].evidence < got[1].evidence {
		t.Fatalf("%d ridges, the first not the clearest", len(got))
	}
	for k := range blocks {
		if still, moved := got[0].at[k], got[1].at[k]; math.Abs(still-80) > 4 || math.Abs(moved-moving(k)) > 8 {
			t.Fatalf("block %d: %.0f and %.0f, want 80 and %.0f", k, still, moved, moving(k))
		}
	}
}
