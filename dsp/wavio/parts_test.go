package wavio_test

import (
	"bytes"
	"errors"
	"io"
	"os"
	"slices"
	"strings"
	"testing"

	"rundown/dsp/wavio"
	"rundown/dsp/wavio/wavtest"
)

func openParts(t testing.TB, stdin io.Reader, paths ...string) *wavio.Parts {
	t.Helper()
	p, err := wavio.OpenParts(paths, stdin)
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { p.Close() })
	return p
}

// TestParts cuts a run in different ways, each part in an encoding of its own.
func TestParts(t *testing.T) {
	want := coarse(2, 10_000)
	part := func(e stored, from, to int) []byte {
		return wave(e.format(48000, 2), chunk("data", e.samples([][]float32{want[0][from:to], want[1][from:to]})))
	}
	whole := save(t, "whole.wav", part(pcm16, 0, 10_000))
	a := save(t, "a.wav", part(pcm16, 0, 3000))
	b := save(t, "b.wav", part(encodings[4], 3000, 3001))
	none := save(t, "none.wav", part(pcm16, 5, 5))
	c := save(t, "c.wav", part(encodings[8], 3001, 10_000))
	stdin := part(encodings[7], 3000, 3001)
	for _, paths := range [][]string{{whole}, {a, b, c}, {a, none, b, none, none, c}, {a, "-", c}, {none, a, b, c, none}} {
		opened := func() *wavio.Parts { return openParts(t, stream(stdin), paths...) }
		wavtest.CheckSource(t, func() wavio.Source { return opened() })
		p := opened()
		expect(t, p, want)
		if f := p.Format(); f.SampleRate != 48000 || f.Channels != 2 || f.BitsPerSample != 16 || f.Float {
			t.Errorf("format %+v", f)
		}
		if n := p.Format().Frames; n != 10_000 {
			t.Errorf("%d frames announced, want 10000", n)
		}
	}
}

func TestPartsProblems(t *testing.T) {
	sound := wave(pcm16.format(8000, 1), chunk("data", make([]byte, 100)))
	cut := save(t, "cut.wav", sound[:101])
	unfinished := le("RIFF", uint32(0), "WAVE", pcm16.format(8000, 1), sized(0, make([]byte, 50)))
	p := openParts(t, stream(unfinished), cut, "-", save(t, "sound.wav", sound))
	if n := p.Format().Frames; n != -1 {
		t.Errorf("%d frames announced, want -1", n)
	}
	got, err := readAll(p)
	if err != nil || len(got[0]) != 28+25+50 {
		t.Errorf("%d frames, error %v", len(got[0]), err)
	}
	problems := p.Problems()
	if len(problems) != 3 || !strings.HasPrefix(problems[0], "In "+cut+", the header declares") ||
		!strings.HasPrefix(problems[1], "In "+cut+", the last frame") || !strings.HasPrefix(problems[2], "In standard input, the header gives no length") {
		t.Errorf("problems %q", problems)
	}
	p.Close()
	if !slices.Equal(problems, p.Problems()) {
		t.Errorf("problems %q after Close", p.Problems())
	}
}

func TestPartsRefuse(t *testing.T) {
	sound := func(rate, channels int) string {
		return save(t, "night.wav", wave(pcm16.format(rate, channels), chunk("data", make([]byte, 100))))
	}
	mono, stereo, slow := sound(48000, 1), sound(48000, 2), sound(44100, 1)
	stdin := wave(pcm16.format(44100, 1), chunk("data", make([]byte, 100)))
	tests := []struct {
		paths []string
		want  string
	}{
		{[]string{mono, stereo}, stereo + ": has 48000 Hz and 2 channels, but " + mono + " has 48000 Hz and 1 channel, and parts of one run must agree: convert"},
		{[]string{mono, mono, slow}, slow + ": has 44100 Hz and 1 channel, but " + mono},
		{[]string{mono, "-"}, "standard input: has 44100 Hz"},
		{[]string{"-", mono}, mono + ": has 48000 Hz and 1 channel, but standard input has 44100 Hz"},
		{[]string{"-", "-"}, "standard input: named twice"},
		{[]string{mono, "missing.wav"}, "missing.wav: can't be opened"},
		{[]string{mono, save(t, "night.wav", []byte("fLaC"))}, "holds FLAC"},
	}
	for _, test := range tests {
		_, err := wavio.OpenParts(test.paths, stream(stdin))
		if err == nil || !strings.Contains(err.Error(), test.want) {
			t.Errorf("%q: error %v, want %q", test.paths, err, test.want)
		}
	}
	if _, err := wavio.OpenParts([]string{"-"}, bytes.NewReader(nil)); err == nil || !strings.HasPrefix(err.Error(), "standard input: is empty") {
		t.Errorf("error %v for an empty standard input", err)
	}
}

// TestPartsChange takes a part away, or changes it, while the run is read.
func TestPartsChange(t *testing.T) {
	sound := wave(pcm16.format(8000, 1), chunk("data", make([]byte, 100)))
	first, second := save(t, "first.wav", sound), save(t, "second.wav", sound)
	for name, change := range map[string]func() error{
		"changed": func() error {
			return os.WriteFile(second, wave(pcm16.format(9000, 1), chunk("data", make([]byte, 100))), 0o600)
		},
		"taken away": func() error { return os.Remove(second) },
	} {
		if err := os.WriteFile(second, sound, 0o600); err != nil {
			t.Fatal(err)
		}
		wavtest.CheckSource(t, func() wavio.Source {
			if err := os.WriteFile(second, sound, 0o600); err != nil {
				t.Fatal(err)
			}
			p := openParts(t, nil, first, second)
			if err := change(); err != nil {
				t.Fatal(err)
			}
			return p
		})
		p := openParts(t, nil, first)
		p.Close()
		if _, err := p.Read([][]float32{make([]float32, 1)}); !errors.Is(err, os.ErrClosed) {
			t.Errorf("%s: error %v after Close", name, err)
		}
	}
}
