package fault

import (
	"math"
	"testing"
)

func TestWithLosses(t *testing.T) {
	quiet := Position{Mean: 1e-6, SE: 2e-6, Beats: 100}
	if mean, se := quiet.WithLosses(); mean != 1e-6 || se != 2e-6 {
		t.Errorf("without events: %v ± %v", mean, se)
	}
	// A tooth that costs 4 ms in one turn of five: 0.8 ms a turn, and a share of
	// 0.2 of 100 turns is known to √(0.2·0.8/100) = 0.04, hence to 0.16 ms.
	bad := Position{Beats: 100, Events: 20, Lost: 20 * 4e-3}
	if mean, se := bad.WithLosses(); math.Abs(mean-0.8e-3) > 1e-12 || math.Abs(se-0.16e-3) > 1e-12 {
		t.Errorf("with events: %v ± %v", mean, se)
	}
}

func TestElsewhere(t *testing.T) {
	tooth := Recurrence{Kind: Events, PeriodBeats: 30}
	swing := Recurrence{Kind: Modulation, PeriodBeats: 300}
	leaf := Recurrence{Kind: Events, PeriodBeats: 300}
	tests := []struct {
		name  string
		found []Recurrence
		beats float64
		want  float64 // beats of the recurrence; 0 for none
	}{
		{"nothing comes round", nil, 30, 0},
		{"its own", []Recurrence{swing, tooth}, 30, 0},
		{"another's", []Recurrence{swing, tooth}, 300, 30},
		{"its own and another's", []Recurrence{tooth, leaf}, 300, 0},
		{"a swing of another", []Recurrence{swing}, 30, 0},
	}
	for _, test := range tests {
		got := 0.0
		if r := Elsewhere(test.found, test.beats); r != nil {
			got = r.PeriodBeats
		}
		if got != test.want {
			t.Errorf("%s: events are those of %g beats, want %g", test.name, got, test.want)
		}
	}
}
