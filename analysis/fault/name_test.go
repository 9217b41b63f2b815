package fault

import (
	"math/big"
	"strings"
	"testing"

	"rundown/analysis/train"
)

func TestNames(t *testing.T) {
	example := partsOf(exampleTrain())
	close := []part{
		{train.Candidate{Name: "this arbor, one turn", Beats: big.NewRat(300, 1), Teeth: 60}, 300},
		{train.Candidate{Name: "that arbor, one turn", Beats: big.NewRat(2401, 8), Teeth: 60}, 300.125},
	}
	const beats = 18000
	for _, c := range []struct {
		name   string
		parts  []part
		period float64
		part   int
		match  string
		note   string // what it has to contain; all of it where empty
	}{
		{"arbor", example, 300, 1, "fourth arbor, one turn", ""},
		{"two of one period", example, 30, 0, "escape wheel, one turn", "or mesh third–fourth, one tooth, which comes round in exactly the same time: no recording can tell"},
		// 0.25 turns in the run are 1/72000 cycles a beat; the two differ by a
		// tenth of that, so that ten times the hour is needed.
		{"two too close", close, 300, 0, "this arbor, one turn", "or that arbor, one turn, 300.125 beats: a recording longer by 9.0 h would tell"},
		{"half", example, 150, -1, "", "2 times in one turn of the fourth arbor"},
		{"double", example, 60, -1, "", "once in 2 turns of the escape wheel"},
		{"none", example, 47, -1, "", "nothing in the train comes round in this time"},
		{"no train", nil, 30, -1, "", "an escape wheel of 15 teeth turns in this time"},
		{"no train, odd", nil, 31, -1, "", ""},
		{"no train, too small", nil, 10, -1, "", ""},
		{"no train, too large", nil, 122, -1, "", ""},
		{"one side", nil, 2, -1, "", "always on the same side: look at one pallet"},
	} {
		n := namer{parts: c.parts, interval: 0.2, beats: beats}
		r := n.name(Events, c.period, c.part, 0.25/beats)
		if r.Match != c.match || r.PeriodBeats != c.period || r.Note != c.note {
			t.Errorf("%s: %+v, want match %q and note %q", c.name, r, c.match, c.note)
		}
	}
}

func TestPhase(t *testing.T) {
	n := namer{first: 17}
	for _, c := range []struct{ beat, period, want float64 }{{3, 30, 20}, {13, 30, 0}, {12.9999999999, 30, 0}, {-18, 30, 29}, {0.5, 3.75, 2.5}} {
		if got := n.phase(c.beat, c.period); got != c.want {
			t.Errorf("beat %g of period %g: phase %g, want %g", c.beat, c.period, got, c.want)
		}
	}
}

func TestDuration(t *testing.T) {
	for s, want := range map[float64]string{12.2: "13 s", 600: "10 min", 9000: "2.5 h"} {
		if got := duration(s); got != want {
			t.Errorf("%g s: %q, want %q", s, got, want)
		}
	}
}

// A run's first beat need not be number 0: phases are those of beat numbers.
func TestPhaseCountsFromBeatNumbers(t *testing.T) {
	s, phase := badTooth(*firstSeed, 15, 20)
	beats, events := s.play()
	const from = 1007
	var later Collector
	for i := range events {
		if events[i].Beat >= from {
			later.Append(nil, events[i:i+1])
		}
	}
	later.Append(beats[from:], nil)
	got := later.Recurrences(nil)
	if len(got) != 1 || got[0].PhaseBeats != phase || !strings.Contains(got[0].Note, "15 teeth") {
		t.Errorf("phase %g: %+v", phase, got)
	}
}
