package main

import (
	"slices"
	"strings"
	"testing"

	"rundown/analysis"
	"rundown/analysis/beat"
)

func TestJointProblems(t *testing.T) {
	s := &analysis.Summary{}
	s.Recording.Duration, s.Beat.Period = 400, 0.4
	list := []joint{{"a.wav", "b.wav", 0.25}, {"b.wav", "c.wav", 0.5}, {"c.wav", "d.wav", 0.75}}
	events := []beat.Event{
		{Kind: beat.Late, Start: 60, End: 60.1, Shift: 0.02}, // far from any joint
		{Kind: beat.Early, Start: 100.1, End: 100.2, Shift: -0.0123},
		{Kind: beat.Missed, Start: 199, End: 201}, // displaces nothing
		{Kind: beat.Late, Start: 299.7, End: 299.8, Shift: 0.09},
	}
	got := jointProblems(list, s, events)
	want := []string{"Where a.wav ends and b.wav begins, the beats jump by −12.3", "Where c.wav ends and d.wav begins, the beats jump by +90"}
	if !slices.EqualFunc(got, want, strings.HasPrefix) {
		t.Errorf("%q, want %q", got, want)
	}
}

func TestJointsOf(t *testing.T) {
	short, long := record(t, "--duration", "5s", "--sample-rate", "8000"), record(t, "--duration", "15s", "--sample-rate", "8000")
	if got := jointsOf([]string{short, long}); len(got) != 1 || got[0] != (joint{"night.wav", "night.wav", 0.25}) {
		t.Errorf("%+v, want a joint after a quarter", got)
	}
	for _, paths := range [][]string{{short}, {short, "missing.wav"}, {short, stdinName}} {
		if got := jointsOf(paths); got != nil {
			t.Errorf("%v: %+v, want none", paths, got)
		}
	}
}
