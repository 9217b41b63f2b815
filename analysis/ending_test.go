package analysis

import (
	"testing"

	"rundown/analysis/beat"
)

func TestEnding(t *testing.T) {
	for _, c := range []struct {
		name  string
		stops []int64 // last beats before them; the beats are a second apart
		last  int64
		want  Ending
	}{
		{"no stop", nil, 999, Ending{Last: 999}},
		{"stopped for good", []int64{999}, 999, Ending{Last: 999, Stopped: true}},
		{"stopped on the way", []int64{500}, 999, Ending{Last: 999, Stops: 1}},
		{"stopped on the way, then for good", []int64{300, 500, 999}, 999, Ending{Last: 999, Stops: 2, Stopped: true}},
		{"a few beats more, then for good", []int64{900, 907, 912}, 912, Ending{Last: 900, Restarts: 2, Beats: 12, Stopped: true}},
		{"a few beats more as the recording ends", []int64{500, 900}, 904, Ending{Last: 900, Stops: 1, Restarts: 1, Beats: 4}},
		{"a few beats on the way", []int64{300, 305}, 999, Ending{Last: 999, Stops: 2}},
		{"never more than a few", []int64{20, 30}, 49, Ending{Last: 20, Restarts: 2, Beats: 29}},
	} {
		var f endingFinder
		for _, b := range c.stops {
			f.stop(beat.Event{Kind: beat.Stop, Beat: b, Start: float64(b)})
		}
		if got := f.finish(c.last, float64(c.last)); got != c.want {
			t.Errorf("%s: %+v, want %+v", c.name, got, c.want)
		}
	}
}
