package compare

import (
	"math"
	"strings"
	"testing"

	"rundown/analysis"
	"rundown/analysis/rate"
	"rundown/analysis/runs"
)

// sketch is a run of 60 s windows with these amplitudes.
func sketch(amplitudes ...float64) *runs.Run {
	r := &runs.Run{Path: "sketch", Kind: rate.Degrees}
	for i, a := range amplitudes {
		r.Windows = append(r.Windows, rate.Window{
			Start: 60 * float64(i), End: 60 * float64(i+1), Beats: 300, Heard: 300,
			Rate: rate.Value{X: a / 10, SE: 0.01}, Smoothed: rate.Value{X: a / 10, SE: 0.01},
			Amplitude: rate.Value{X: a, SE: 0.1}, Period: rate.Value{X: 0.4, SE: 1e-6},
		})
	}
	r.Summary = analysis.Summary{
		Status:    analysis.OK,
		Recording: analysis.Recording{SampleRate: 48000, Duration: 3600, ClockVerified: true},
		Beat:      analysis.Beat{Nominal: 18000, Measured: 18000, Period: 0.4, Last: 3600, Mark: analysis.MidLift},
	}
	return r
}

func TestFalling(t *testing.T) {
	r := sketch(280, 270, 274, 260, math.NaN(), 250, 256, 253, 240)
	want := []swing{{0, 280}, {1, 272}, {2, 272}, {3, 260}, {5, 253}, {6, 253}, {7, 253}, {8, 240}}
	got := falling(r)
	if len(got) != len(want) {
		t.Fatalf("%v", got)
	}
	for i := range want {
		if got[i].window != want[i].window || math.Abs(got[i].amplitude-want[i].amplitude) > 1e-9 {
			t.Errorf("%d: %v, want %v", i, got[i], want[i])
		}
	}
}

// A rate that hangs on the amplitude alone is the same at equal amplitudes.
func TestPairsByAmplitude(t *testing.T) {
	a := sketch(280, 270, 260, 250, 240, 230, 220, 210, 200)
	b := sketch(265, 258, 249, 241, 233, 222, 211)
	all := []*runs.Run{a, b, a}
	rows, err := match(all, Amplitude)
	if err != nil {
		t.Fatal(err)
	}
	p := (&comparer{all: all, first: 1, rows: rows}).columns(rateOf)
	if before := p.runs[0]; len(before) != 5 || before[0] != 26 || before[4] != 22 {
		t.Errorf("before: %v", before)
	}
	for i, d := range p.difference.Y {
		near(t, "difference at equal amplitude", d, 0, 1e-9)
		near(t, "time", p.difference.T[i], 60*float64(i)+150, 1e-9)
	}
}

func TestPairsRefuse(t *testing.T) {
	fall := sketch(280, 270, 260, 250, 240)
	level := sketch(-20, -21, -22, -23, -24)
	level.Kind = rate.Level
	for what, b := range map[string]*runs.Run{
		"no common":        level,
		"not known":        sketch(math.NaN(), math.NaN(), math.NaN(), math.NaN(), 250),
		"different amplit": sketch(180, 170, 160, 150, 140),
		"does not change":  sketch(250, 250, 250, 250, 250),
	} {
		if _, err := match([]*runs.Run{fall, b}, Amplitude); err == nil || !strings.Contains(err.Error(), what) {
			t.Errorf("%s: %v", what, err)
		}
	}
	if _, err := match([]*runs.Run{fall, sketch(1, 2)}, Elapsed); err == nil {
		t.Error("two windows were compared")
	}
}

func TestMakeAlike(t *testing.T) {
	six := func(change func(*runs.Run)) *runs.Run {
		r := sketch(280, 270, 260, 250, 240, 230, 220, 210, 200, 190)
		change(r)
		return r
	}
	cases := []struct {
		what    string
		change  func(*runs.Run)
		refused string // part of the error; empty where it is handled
		note    string // part of a note
	}{
		{"nothing", func(*runs.Run) {}, "", ""},
		{"no beat", func(r *runs.Run) { r.Summary.Status = analysis.NoBeat }, "no beat", ""},
		{"few windows", func(r *runs.Run) { r.Windows = r.Windows[:2] }, "--window", ""},
		{"nominal", func(r *runs.Run) { r.Summary.Beat.Nominal = 18001 }, "--bph", ""},
		{"another movement", func(r *runs.Run) { r.Summary.Beat.Measured = 21600 }, "one movement", ""},
		{"odd windows", func(r *runs.Run) {
			for i := range r.Windows {
				r.Windows[i].Start, r.Windows[i].End = 45*float64(i), 45*float64(i+1)
			}
		}, "--window", ""},
		{"half as wide", func(r *runs.Run) {
			for i := range r.Windows {
				r.Windows[i].Start, r.Windows[i].End = 30*float64(i), 30*float64(i+1)
			}
		}, "", "joined by 2"},
		{"clock of one", func(r *runs.Run) { r.Summary.Recording.ClockVerified = false }, "--clock-ppm", ""},
		{"other correction", func(r *runs.Run) { r.Summary.Recording.ClockPPM = -12 }, "", ""},
		{"sample rate", func(r *runs.Run) { r.Summary.Recording.SampleRate = 96000 }, "", "96000 Hz"},
		{"mark", func(r *runs.Run) { r.Summary.Beat.Mark = "clearest" }, "", "the clearest sound"},
	}
	for _, c := range cases {
		a, b := six(func(*runs.Run) {}), six(c.change)
		notes, err := harmonise([]*runs.Run{a, b})
		switch {
		case c.refused != "" && (err == nil || !strings.Contains(err.Error(), c.refused) || strings.Contains(err.Error(), "\n")):
			t.Errorf("%s: %v", c.what, err)
		case c.refused == "" && err != nil:
			t.Errorf("%s: %v", c.what, err)
		case c.note != "" && !strings.Contains(strings.Join(notes, " "), c.note):
			t.Errorf("%s: notes %q", c.what, notes)
		case c.refused == "" && c.note == "" && len(notes) > 0:
			t.Errorf("%s: notes %q", c.what, notes)
		}
	}
	a, b := six(func(r *runs.Run) { r.Summary.Recording.ClockVerified = false }), six(func(r *runs.Run) { r.Summary.Recording.ClockVerified = false })
	if notes, err := harmonise([]*runs.Run{a, b}); err != nil || len(notes) != 1 || !strings.Contains(notes[0], "same recorder") {
		t.Errorf("neither clock checked: %q, %v", notes, err)
	}
}
