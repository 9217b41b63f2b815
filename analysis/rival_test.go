package analysis

import (
	"fmt"
	"math"
	"strings"
	"testing"

	"rundown/dsp/wavio"
)

// both is two recordings at once, the second of them by a gain.
type both struct {
	wavio.Source
	other wavio.Source
	gain  float32
}

func (b both) Read(dst [][]float32) (int, error) {
	n, err := b.Source.Read(dst)
	x := make([]float32, n)
	for have := 0; have < n; {
		k, err := b.other.Read([][]float32{x[have:]})
		if err != nil {
			return n, err
		}
		have += k
	}
	for i, v := range x {
		dst[0][i] = 0.4 * (dst[0][i] + b.gain*v)
	}
	return n, err
}

// TestSecondMovement puts two movements into one recording, one of them 6 or 10 dB
// weaker, and expects the stronger one to be followed as if it were alone, and the
// other to be named.
func TestSecondMovement(t *testing.T) {
	first, second := recorded(120, 35), recorded(120, 35)
	first.Movement.BeatError = 0.7e-3
	second.Seed, second.Room.Noise = 77, "none"
	second.Movement.BeatsPerHour, second.Movement.Rate, second.Movement.BeatError = 21600, 15, -1.1e-3
	for _, db := range []float64{-10, -6, 6, 10} {
		if testing.Short() && db != -6 {
			continue
		}
		var sink table
		r, err := Run(t.Context(), both{first.Render(), second.Render(), float32(math.Pow(10, db/20))}, settings(), &sink)
		if err != nil {
			t.Fatal(err)
		}
		count, other, beatError := 18000.0, 21600*(1+15.0/86400), 0.7
		if db > 0 {
			count, other, beatError = other, count, -1.1
		}
		if len(sink.events) > 0 || math.Abs(float64(r.Beat.Measured)/count-1) > 1e-5 || r.Beat.Heard != r.Beat.Counted {
			t.Errorf("%+g dB: %+v, events %v", db, r.Beat, sink.events)
		}
		if e := r.BeatError; math.Abs(math.Abs(float64(e.Mean))-math.Abs(beatError)) > 3*float64(e.SE) {
			t.Errorf("%+g dB: beat error %+v, want %g ms", db, e, beatError)
		}
		named, level := 0.0, 0.0
		for _, p := range r.Recording.Problems {
			if at := strings.Index(p, "within earshot, of "); at >= 0 {
				fmt.Sscanf(p[at:], "within earshot, of %f beats an hour and some %f dB weaker", &named, &level)
			}
		}
		if math.Abs(named/other-1) > 1e-4 || math.Abs(level-math.Abs(db)) > 3 {
			t.Errorf("%+g dB: problems %q, want one of %.0f an hour", db, r.Recording.Problems, other)
		}
	}
}

// TestTheLouderIsFollowed: a movement that beats much faster gives more evidence a second,
// and is not followed for it where it is the weaker one, be it by 4 dB.
func TestTheLouderIsFollowed(t *testing.T) {
	fast, slow := recorded(60, 35), recorded(60, 35)
	fast.Seed, fast.Movement.BeatsPerHour, fast.Movement.BeatError = 104, 28800, 0.7e-3
	slow.Seed, slow.Movement.Rate, slow.Movement.BeatError, slow.Room.Noise = 105, 10, -1.1e-3, "none"
	r, err := Run(t.Context(), both{fast.Render(), slow.Render(), 1.6}, settings(), new(table))
	if err != nil {
		t.Fatal(err)
	}
	if math.Abs(float64(r.Beat.Measured)/18002-1) > 1e-4 {
		t.Errorf("%.0f beats an hour, want 18002", float64(r.Beat.Measured))
	}
}
