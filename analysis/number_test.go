package analysis

import (
	"encoding/json"
	"math"
	"testing"

	"rundown/analysis/beat"
)

func TestNumberJSON(t *testing.T) {
	cases := []struct {
		x    float64
		want string
	}{
		{0.1 + 0.2, "0.3"},
		{-12.5, "-12.5"},
		{1e-9, "1e-09"},
		{18000, "18000"},
		{math.NaN(), "null"},
		{math.Inf(1), "null"},
	}
	for _, c := range cases {
		text, err := json.Marshal(Number(c.x))
		if err != nil || string(text) != c.want {
			t.Errorf("Marshal(%v) = %s, %v; want %s", c.x, text, err, c.want)
		}
		var back Number
		if err := json.Unmarshal(text, &back); err != nil {
			t.Errorf("Unmarshal(%s): %v", text, err)
		}
		if known := c.want != "null"; back.Known() != known || known && math.Abs(float64(back)-c.x) > 1e-11*math.Abs(c.x) {
			t.Errorf("%v came back as %v", c.x, back)
		}
	}
}

func TestSummaryIsJSONWithoutABeat(t *testing.T) {
	s := newSummary(Options{}, silence().Format(), beat.Report{}, 0)
	text, err := json.Marshal(s)
	if err != nil {
		t.Fatal(err)
	}
	var back Summary
	if err := json.Unmarshal(text, &back); err != nil {
		t.Fatal(err)
	}
	if back.Rate.Mean.Known() || back.Recording.SampleRate != sampling || back.Status != NoBeat {
		t.Errorf("came back as %+v", back)
	}
}
