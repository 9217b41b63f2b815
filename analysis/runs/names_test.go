package runs

import (
	"slices"
	"testing"
)

func TestNames(t *testing.T) {
	for _, c := range []struct{ paths, want []string }{
		{[]string{"nights/a.wav", "nights/b.wav"}, []string{"a.wav", "b.wav"}},
		{[]string{"mon/night.wav", "tue/night.wav"}, []string{"mon/night.wav", "tue/night.wav"}},
		{[]string{"mon/oil/night.wav", "tue/oil/night.wav", "dry.wav"}, []string{"mon/…/night.wav", "tue/…/night.wav", "dry.wav"}},
		{[]string{"/x/mon/1/night.wav", "/x/mon/2/night.wav", "/x/tue/1/night.wav"}, []string{"mon/1/night.wav", "2/night.wav", "tue/1/night.wav"}},
		{[]string{"night.wav", "./night.wav"}, []string{"night.wav (1)", "night.wav (2)"}},
		{[]string{"night.wav", "old/night.wav"}, []string{"night.wav", "old/night.wav"}},
		{[]string{"", "."}, []string{". (1)", ". (2)"}},
		{nil, []string{}},
	} {
		if got := Names(c.paths); !slices.Equal(got, c.want) {
			t.Errorf("%q are called %q, want %q", c.paths, got, c.want)
		}
	}
}
