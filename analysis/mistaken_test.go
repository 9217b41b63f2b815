package analysis

import (
	"testing"

	"rundown/analysis/beat"
)

// TestWellMarked leaves out beats that were marked by another sound than was meant, and
// calls the first of the others a tick; where there are no others, it leaves out none.
func TestWellMarked(t *testing.T) {
	for _, c := range []struct {
		name    string
		from    int64
		beats   int
		sounds  int
		tick    int
		shifted int64
	}{
		{"an odd number", 7, 13, 1, 1, 0},
		{"an even number", 8, 12, 1, 0, 0},
		{"all", 20, 20, 1, 0, 0},
	} {
		var s story
		for i := range 20 {
			s.beats = append(s.beats, beat.Beat{Index: int64(i), Time: float64(i), Side: beat.Side(i % 2), Heard: true})
		}
		got := s.wellMarked([]beat.Sounds{{Mistaken: true}, {From: c.from}})
		if len(got) != c.sounds || got[0].From != c.shifted || got[0].Tick != c.tick || len(s.beats) != c.beats || s.beats[0].Index != 0 || s.beats[0].Side != beat.Tick {
			t.Errorf("%s: %+v, %d beats from %+v on", c.name, got, len(s.beats), s.beats[0])
		}
	}
}
