package wavtest

import (
	"errors"
	"io"
	"math"
	"strings"
	"testing"

	"rundown/dsp/wavio"
)

// faulty is a Source of a ramp that can be made to break the contract.
type faulty struct {
	at, frames int
	format     wavio.Format
	problems   []string
	failure    error // at the end, in place of io.EOF

	short, endless, early, forgets, leaks, sulks bool
	nan                                          bool
}

func (f *faulty) Format() wavio.Format { return f.format }
func (f *faulty) Problems() []string   { return f.problems }

func (f *faulty) Read(dst [][]float32) (int, error) {
	left := f.frames - f.at
	if left == 0 {
		switch {
		case f.endless:
			return 0, nil
		case f.forgets:
			f.at = 0
		case f.sulks:
			return 0, errors.New("once more")
		case f.failure != nil:
			return 0, f.failure
		}
		return 0, io.EOF
	}
	n := 0
	for c, d := range dst {
		if d == nil {
			continue
		}
		n = min(len(d), left)
		if f.short {
			n = max(n/2, 1)
		}
		for i := range n {
			d[i] = float32(f.at + i + c)
			if f.leaks {
				d[i] = float32(len(d))
			}
			if f.nan {
				d[i] = float32(math.NaN())
			}
		}
	}
	f.at += n
	if f.early && f.at == f.frames {
		return n, io.EOF
	}
	return n, nil
}

func TestCheck(t *testing.T) {
	sound := wavio.Format{SampleRate: 8000, Channels: 2, BitsPerSample: 16, Frames: 500}
	tests := []struct {
		name   string
		source faulty
		want   string // in the error; "": none
	}{
		{"sound", faulty{}, ""},
		{"failing at its end", faulty{failure: errors.New("unplugged")}, ""},
		{"short reads", faulty{short: true}, "after fewer than asked for"},
		{"neither frames nor end", faulty{endless: true}, "0 frames without an error"},
		{"end together with frames", faulty{early: true}, "together with the error"},
		{"starts again after the end", faulty{forgets: true}, "the end doesn't last"},
		{"a new error each time", faulty{sulks: true}, "the end doesn't last"},
		{"depends on the block size", faulty{leaks: true}, "channel 0, frame 0"},
		{"not a number", faulty{nan: true}, "NaN"},
		{"no sentence", faulty{problems: []string{"cut short"}}, "no sentence"},
		{"no rate", faulty{format: wavio.Format{Channels: 2, BitsPerSample: 16}}, "format"},
	}
	for _, test := range tests {
		t.Run(test.name, func(t *testing.T) {
			err := check(func() wavio.Source {
				s := test.source
				s.frames = 500
				if s.format == (wavio.Format{}) {
					s.format = sound
				}
				return &s
			})
			switch {
			case test.want == "" && err != nil:
				t.Errorf("refused: %v", err)
			case test.want != "" && (err == nil || !strings.Contains(err.Error(), test.want)):
				t.Errorf("error %v, want one with %q", err, test.want)
			}
		})
	}
}
