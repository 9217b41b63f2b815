package main

import (
	"math"
	"testing"

	"rundown/analysis/fault"
	"rundown/analysis/rate"
)

func TestTimeline(t *testing.T) {
	// Ten beats, a window without any, five beats.
	at := timeline([]rate.Window{{Start: 0, End: 10, Beats: 10}, {Start: 10, End: 20}, {Start: 20, End: 25, Beats: 5}})
	for beat, want := range map[int64]float64{0: 0, 1: 1, 9: 9, 10: 20, 14: 24, 15: 25, 99: 25} {
		if got := at(beat); math.Abs(got-want) > 1e-9 {
			t.Errorf("beat %d at %v s, want %v", beat, got, want)
		}
	}
}

func TestWithLosses(t *testing.T) {
	quiet := fault.Position{Mean: 1e-6, SE: 2e-6, Beats: 100}
	if got := withLosses(quiet); got != (rate.Value{X: 1e-6, SE: 2e-6}) {
		t.Errorf("without events: %v", got)
	}
	// A tooth that costs 4 ms in one turn of five: 0.8 ms a turn, and a share of
	// 0.2 of 100 turns is known to √(0.2·0.8/100) = 0.04, hence to 0.16 ms.
	bad := fault.Position{Beats: 100, Events: 20, Lost: 20 * 4e-3}
	if got := withLosses(bad); math.Abs(got.X-0.8e-3) > 1e-12 || math.Abs(got.SE-0.16e-3) > 1e-12 {
		t.Errorf("with events: %v", got)
	}
}

func TestElsewhere(t *testing.T) {
	tooth := fault.Recurrence{Kind: fault.Events, PeriodBeats: 30}
	swing := fault.Recurrence{Kind: fault.Modulation, PeriodBeats: 300}
	leaf := fault.Recurrence{Kind: fault.Events, PeriodBeats: 300}
	tests := []struct {
		name  string
		found []fault.Recurrence
		beats float64
		want  float64 // beats of the recurrence; 0 for none
	}{
		{"nothing comes round", nil, 30, 0},
		{"its own", []fault.Recurrence{swing, tooth}, 30, 0},
		{"another's", []fault.Recurrence{swing, tooth}, 300, 30},
		{"its own and another's", []fault.Recurrence{tooth, leaf}, 300, 0},
		{"a swing of another", []fault.Recurrence{swing}, 30, 0},
	}
	for _, test := range tests {
		got := 0.0
		if r := elsewhere(test.found, test.beats); r != nil {
			got = r.PeriodBeats
		}
		if got != test.want {
			t.Errorf("%s: events are those of %g beats, want %g", test.name, got, test.want)
		}
	}
}

func TestFileName(t *testing.T) {
	for name, want := range map[string]string{
		"escape wheel": "escape-wheel", "../../etc/passwd": "etc-passwd", "Großbodenrad": "gro-bodenrad", "a\nb": "a-b", "中": "",
	} {
		if got := fileName(name); got != want {
			t.Errorf("fileName(%q) = %q, want %q", name, got, want)
		}
	}
}
