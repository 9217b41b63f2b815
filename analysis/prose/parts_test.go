package prose

import (
	"slices"
	"strings"
	"testing"

	"rundown/analysis"
	"rundown/analysis/beat"
)

func TestPartNumbers(t *testing.T) {
	cases := []struct {
		paths string
		want  []string // what each problem names, in order
	}{
		{"night.wav", nil},
		{"night_1.wav night_2.wav night_3.wav", nil},
		{"a/night_009.wav a/night_010.wav a/night_011.wav", nil},
		{"a/night_001.wav a/night_002.wav a/night_004.wav", []string{"a part is missing between night_002.wav and night_004.wav"}},
		{"n1.wav n5.wav", []string{"3 parts are missing between n1.wav and n5.wav"}},
		{"n2.wav n1.wav", []string{"n1.wav does not come after n2.wav"}},
		{"n1.wav n1.wav", []string{"n1.wav does not come after n1.wav"}},
		{"n1-left.wav n3-left.wav", []string{"a part is missing between n1-left.wav and n3-left.wav"}},
		{"203105042130.wav 203105042230.wav", nil}, // times
		{"evening.wav n1.wav n3.wav", nil},
		{"n1a.wav n3b.wav", nil},
		{"n.wav.1 n.wav.3", []string{"a part is missing between n.wav.1 and n.wav.3"}},
		{"n1.mp3 n2.mp3", nil},
		{"- n2.wav", nil},
		{"99999999999999999999.wav 2.wav", nil},
	}
	for _, c := range cases {
		got := PartNumbers(strings.Fields(c.paths))
		if len(got) != len(c.want) {
			t.Errorf("%s: %q, want %q", c.paths, got, c.want)
			continue
		}
		for i, want := range c.want {
			if !strings.Contains(got[i], want) || !strings.HasSuffix(got[i], ".") {
				t.Errorf("%s: %q, want %q", c.paths, got[i], want)
			}
		}
	}
}

func TestJumps(t *testing.T) {
	s := &analysis.Summary{}
	s.Recording.Duration, s.Beat.Period = 400, 0.4
	list := []analysis.Joint{{Before: "a.wav", After: "b.wav", At: 0.25}, {Before: "b.wav", After: "c.wav", At: 0.5}, {Before: "c.wav", After: "d.wav", At: 0.75}}
	events := []beat.Event{
		{Kind: beat.Late, Start: 60, End: 60.1, Shift: 0.02}, // far from any joint
		{Kind: beat.Early, Start: 100.1, End: 100.2, Shift: -0.0123},
		{Kind: beat.Missed, Start: 199, End: 201}, // displaces nothing
		{Kind: beat.Late, Start: 299.7, End: 299.8, Shift: 0.09},
	}
	got := Jumps(list, s, events)
	want := []string{"Where a.wav ends and b.wav begins, the beats jump by −12.3", "Where c.wav ends and d.wav begins, the beats jump by +90"}
	if !slices.EqualFunc(got, want, strings.HasPrefix) {
		t.Errorf("%q, want %q", got, want)
	}
}
