package fault

import (
	"math/rand/v2"
	"testing"
)

// What comes round twice in a turn comes round in half of it, with the part of the train
// that does.
func TestHalved(t *testing.T) {
	for _, c := range []struct {
		period float64
		phases []float64
		want   float64
		phase  float64
		part   int
	}{
		{80, []float64{30, 70}, 40, 30, 0},
		{80, []float64{70.4, 30}, 40, 30, 0},
		{80, []float64{30, 60}, 80, 30, -1},
		{80, []float64{30}, 80, 30, -1},
		{75, []float64{2, 39}, 37.5, 2.25, -1},
	} {
		s := scan{length: 7000, train: []part{{period: 40}}}
		got := s.named(coincidence{period: c.period, phases: c.phases, part: -1}.halved())
		if got.period != c.want || got.phases[0] != c.phase || got.part != c.part {
			t.Errorf("%v in %g beats: %+v", c.phases, c.period, got)
		}
	}
}

// TestLongest has a tooth that hesitates in eight of two hundred turns, told at its own period
// or at half of it: it is found at its own, but where chance has them all in turns of one kind.
func TestLongest(t *testing.T) {
	const turns, events, trials = 200, 8, 400
	r := rand.New(rand.NewPCG(5, 5))
	wrong := 0
	for range trials {
		beats := make([]int64, events)
		for i, turn := range r.Perm(turns)[:events] {
			beats[i] = int64(60*turn + 7)
		}
		for _, told := range []float64{60, 30} {
			if c := (coincidence{period: told, phases: []float64{7}, window: 1, part: -1}).longest(beats, 60*turns); c.period != 60 {
				wrong++
			}
		}
	}
	if most := 2 * trials * 3 / 100; wrong > most {
		t.Errorf("another period in %d of %d", wrong, 2*trials)
	}
	if !likelier(5, 5, 2) || likelier(4, 5, 2) || !likelier(9, 10, 2) || likelier(5, 10, 2) {
		t.Error("five of five in every other turn are no chance, four of five are")
	}
}
