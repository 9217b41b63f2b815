package analysis

import (
	"math"
	"testing"

	"rundown/analysis/rate"
)

func TestTimeline(t *testing.T) {
	// Ten beats, a window without any, five beats.
	at := Timeline([]rate.Window{{Start: 0, End: 10, Beats: 10}, {Start: 10, End: 20}, {Start: 20, End: 25, Beats: 5}})
	for beat, want := range map[int64]float64{0: 0, 1: 1, 9: 9, 10: 20, 14: 24, 15: 25, 99: 25} {
		if got := at(beat); math.Abs(got-want) > 1e-9 {
			t.Errorf("beat %d at %v s, want %v", beat, got, want)
		}
	}
}
