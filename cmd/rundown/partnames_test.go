package main

import (
	"strings"
	"testing"
)

func TestPartProblems(t *testing.T) {
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
		got := partProblems(strings.Fields(c.paths))
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
