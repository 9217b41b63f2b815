package fault

import "testing"

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
