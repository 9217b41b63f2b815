package main

import (
	"testing"

	"rundown/analysis"
)

func TestJoints(t *testing.T) {
	short, long := record(t, "--duration", "5s", "--sample-rate", "8000"), record(t, "--duration", "15s", "--sample-rate", "8000")
	if got := analysis.Joints([]string{short, long}); len(got) != 1 || got[0] != (analysis.Joint{Before: "night.wav", After: "night.wav", At: 0.25}) {
		t.Errorf("%+v, want a joint after a quarter", got)
	}
	for _, paths := range [][]string{{short}, {short, "missing.wav"}, {short, stdinName}} {
		if got := analysis.Joints(paths); got != nil {
			t.Errorf("%v: %+v, want none", paths, got)
		}
	}
}
