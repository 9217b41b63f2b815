package analysis

import (
	"math"
	"slices"
	"strings"
	"testing"

	"rundown/analysis/beat"
	"rundown/dsp/wavio"
)

// changed is a recording of one channel whose samples are other ones from a frame on.
type changed struct {
	wavio.Source
	at   int
	as   func(i int, x float32) float32
	read int
}

func (c *changed) Read(dst [][]float32) (int, error) {
	n, err := c.Source.Read(dst)
	for i := range dst[0][:n] {
		if c.read+i >= c.at {
			dst[0][i] = c.as(c.read+i, dst[0][i])
		}
	}
	c.read += n
	return n, err
}

// TestChangesAreTold changes a recording at 60 s and at 110 s, and expects that to be told,
// alone, with when, and nothing where it is small. TestDrownedByAnother has a fall by 20 dB.
func TestChangesAreTold(t *testing.T) {
	const first, second = 60 * recordedAt, 110 * recordedAt
	for name, c := range map[string]struct {
		early, late func(i int, x float32) float32
		want        []string
	}{
		"4 dB, then an offset and hum": {
			func(_ int, x float32) float32 { return 0.63 * x },
			func(i int, x float32) float32 {
				return 0.63*x + 0.02 + float32(0.02*math.Sin(2*math.Pi*50*float64(i)/recordedAt))
			},
			[]string{"The hum of the mains, 50 Hz and its overtones, rose by ", "The offset of the recording rose by 26 dB at 1 min 50 s"},
		},
		"down by 9 dB, then up by 8": {
			func(_ int, x float32) float32 { return 0.355 * x },
			func(_ int, x float32) float32 { return 0.355 * 2.5 * x },
			[]string{"The recording level fell by 9 dB at 1 min 00 s, rose by 8 dB at 1 min 50 s, "},
		},
	} {
		r := recorded(160, 40)
		r.Recorder.PeakLevel = -20
		src := &changed{Source: r.Render(), at: first, as: func(i int, x float32) float32 {
			if i < second {
				return c.early(i, x)
			}
			return c.late(i, x)
		}}
		got, err := Run(t.Context(), src, settings(), new(table))
		if err != nil {
			t.Fatal(err)
		}
		problems := slices.DeleteFunc(got.Recording.Problems, func(p string) bool { return strings.Contains(p, "learned anew") })
		if !slices.EqualFunc(problems, c.want, strings.HasPrefix) {
			t.Errorf("%s: %q, want %q", name, problems, c.want)
		}
		if got.Ending.Stopped || got.Beat.Last < 159 {
			t.Errorf("%s: %+v", name, got.Ending)
		}
	}
}

// TestGainThatSilencesBeats has a room that falls by 9 dB at 60 s, and beats that are not
// heard from there on, or not for half a minute: too few after it to tell their level.
func TestGainThatSilencesBeats(t *testing.T) {
	for name, again := range map[string]float64{"for good": 200, "for half a minute": 92, "for 2 s": 62} {
		var s story
		for i := range 500 {
			at := 0.2 * float64(i)
			s.beats = append(s.beats, beat.Beat{Index: int64(i), Time: at, Side: beat.Side(i % 2), Heard: at < 60 || at >= again, Level: -20})
		}
		gains, beats := s.gains([]change{{60.5, -9}})
		want := 1
		if again == 62 {
			want = 0
		}
		if len(gains) != want || len(beats) != 0 {
			t.Errorf("not heard %s: gains %v, beats %v", name, gains, beats)
		}
	}
}

// TestDrownedByAnother takes a movement's level down by 20 dB and plays another one as
// loud as it was: it did not stop.
func TestDrownedByAnother(t *testing.T) {
	first, second := recorded(110, 35), recorded(110, 35)
	second.Seed, second.Room.Noise, second.Movement.BeatsPerHour = 78, "none", 21600
	other := &changed{Source: second.Render(), at: 0, as: func(i int, x float32) float32 {
		if i < 60*recordedAt {
			return 0
		}
		return x
	}}
	down := &changed{Source: first.Render(), at: 60 * recordedAt, as: func(_ int, x float32) float32 { return 0.1 * x }}
	r, err := Run(t.Context(), both{down, other, 1}, settings(), new(table))
	if err != nil {
		t.Fatal(err)
	}
	if r.Ending.Stopped || !slices.ContainsFunc(r.Recording.Problems, func(p string) bool {
		return strings.HasPrefix(p, "The recording level fell by 20 dB at 1 min 00 s")
	}) {
		t.Errorf("%+v, %q", r.Ending, r.Recording.Problems)
	}
}
