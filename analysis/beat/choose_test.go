package beat

import (
	"testing"

	"rundown/analysis/acquisition"
	"rundown/dsp/synth"
)

// TestLearnsFromTheClearestStretch has somebody speak, as loud as the beats, through the first minute
// of a run: the beats are heard then and after it, by one sound and as finely as the quiet room
// allows. Learned from the first stretch, they are not, until they are learned anew.
func TestLearnsFromTheClearestStretch(t *testing.T) {
	const quiet, seconds, last = 65, 250, 215
	rec := movement(18000, seconds, 30)
	rec.Room.Sounds = []synth.RoomSound{{Kind: "speech", For: 60, Level: 0}}
	for _, prompt := range []bool{true, false} {
		all, r := run(t, rec.Render(), Options{Prompt: prompt})
		heard, beats, atLast, se := 0, 0, 0, 0.0
		for _, b := range all.Beats {
			if b.Time < quiet {
				continue
			}
			beats++
			if b.Heard {
				heard++
				se += b.SE
				if b.Time >= last {
					atLast++
				}
			}
		}
		first := all.Beats[0].Time
		fine := heard == beats && first < 10 && len(r.Sounds) == 1 && se/float64(heard) < 4e-6
		if fine == prompt || atLast < 5*(seconds-last)-2 {
			t.Errorf("prompt %v: %d of %d beats heard from %d s on, %d of the last, %.2g s off, the first at %.1f s, by %d sounds", prompt, heard, beats, quiet, atLast, se/float64(heard), first, len(r.Sounds))
		}
	}
}

func TestSurer(t *testing.T) {
	of := func(period, odds float64) *acquisition.Hypothesis {
		return &acquisition.Hypothesis{Period: period, Odds: odds}
	}
	for name, c := range map[string]struct {
		a, b  *acquisition.Hypothesis
		first bool
		odds  float64
		rival float64
	}{
		"alike, the second surer":  {of(1000, 1), of(1001, 4), true, 4, 0},
		"alike, the first surer":   {of(1000, 3), of(999, 2), true, 3, 0},
		"unlike, the second surer": {of(1000, 1), of(2000, 5), false, 4, 1000},
		"unlike, the first surer":  {of(1000, 3), of(1500, 2), true, 1, 1500},
	} {
		h := surer(c.a, c.b)
		if (h == c.a) != c.first || h.Odds != c.odds || h.Rival != c.rival {
			t.Errorf("%s: %+v", name, h)
		}
	}
}

// TestFollowed has beats that were found going back from beat 0.
func TestFollowed(t *testing.T) {
	for name, c := range map[string]struct {
		beats []int64
		faint bool // is the side of odd beats
		want  bool
	}{
		"the next few":          {[]int64{-9, -8, -7, -6}, false, true},
		"most of the next ones": {[]int64{-12, -11, -9, -8, -6, -5}, false, true},
		"alone":                 {[]int64{-20, -9, -8}, false, false},
		"too few":               {[]int64{-12, -11, -9, -8}, false, false},
		"the last before 0":     {[]int64{-1}, false, true},
		"0 is not far":          {[]int64{-3, -2}, false, true},
		"one side":              {[]int64{-12, -10, -8, -6}, false, false},
		"the side that is loud": {[]int64{-12, -10, -8, -6}, true, true},
		"too few of that":       {[]int64{-12, -10, -4}, true, false},
	} {
		var beats []earlierBeat
		for _, n := range c.beats {
			beats = append(beats, earlierBeat{n: n})
		}
		if followed(beats, func(n int64) bool { return !c.faint || n%2 == 0 }) != c.want {
			t.Errorf("%s: not %v", name, c.want)
		}
	}
}

// TestReadAheadIsLetGo: what was read to choose from is not kept any longer than the tracker needs it.
func TestReadAheadIsLetGo(t *testing.T) {
	f := newFollower(t.Context(), movement(18000, 90, 30).Render(), Options{}, func(*Batch) error { return nil })
	if err := f.find(); err != nil || len(f.ahead) == 0 {
		t.Fatalf("%v, %d seconds read ahead", err, len(f.ahead))
	}
	all := f.ahead
	if err := f.follow(); err != nil {
		t.Fatal(err)
	}
	for i, s := range all {
		if s != nil {
			t.Fatalf("second %d of %d is still held", i, len(all))
		}
	}
}
