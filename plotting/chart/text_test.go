package chart

import (
	"strings"
	"testing"
	"unicode"
	"unicode/utf8"

	"gonum.org/v1/plot/vg"
)

func TestSafe(t *testing.T) {
	for in, want := range map[string]string{
		"night 3.wav":      "night 3.wav",
		"Nürnberg – µ ± ½": "Nürnberg – µ ± ½",
		"a\nb\tc\x00d":     "a?b?c?d",
		"\xff\xfe":         "??",
		"\u202eevil":       "?evil",
	} {
		if got := safe(in); got != want {
			t.Errorf("safe(%q) = %q, want %q", in, got, want)
		}
	}
}

func TestCut(t *testing.T) {
	sty := letters(textSize, ink, 0, 0)
	name := "recording of the eight-day clock, part 17.wav"
	if got := cut(name, sty, 1000); got != name {
		t.Errorf("cut though it fits: %q", got)
	}
	for _, width := range []vg.Length{0, 5, 50, 100, 150} {
		got := cut(name, sty, width)
		if sty.Width(got) > width {
			t.Errorf("%q is wider than %g points", got, width)
		}
		if width >= 100 && (!strings.HasPrefix(got, "record") || !strings.HasSuffix(got, ".wav")) {
			t.Errorf("%q has lost an end", got)
		}
	}
}

func TestWrap(t *testing.T) {
	sty := letters(textSize, ink, 0, 0)
	text := "A floor is the least that could have been measured. Averyverylongwordthatdoesnotfitonanylineatall end"
	lines := wrap(text, sty, 100)
	if len(lines) < 4 {
		t.Errorf("%d lines", len(lines))
	}
	for _, l := range lines {
		if sty.Width(l) > 100 {
			t.Errorf("%q is too wide", l)
		}
	}
	if got := wrap("", sty, 100); got != nil {
		t.Errorf("nothing becomes %q", got)
	}
}

func FuzzSubtitle(f *testing.F) {
	for _, r := range awkwardRuns() {
		f.Add(r.Name, r.Nominal)
	}
	sty := letters(textSize, muted, 0, 0)
	f.Fuzz(func(t *testing.T, name string, nominal float64) {
		if nominal > 1e18 {
			nominal = 1e18
		}
		got := Heading{name, nominal}.subtitle()
		if !utf8.ValidString(got) {
			t.Errorf("%q is not UTF-8", got)
		}
		if strings.ContainsFunc(got, func(r rune) bool { return !unicode.IsPrint(r) && r != '\u00a0' }) {
			t.Errorf("%q can't be printed", got)
		}
		if w := sty.Width(got); w > textWidth {
			t.Errorf("%q is %g points wide", got, w)
		}
	})
}
