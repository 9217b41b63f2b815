package export

import (
	"bytes"
	"flag"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"unicode/utf8"

	"rundown/analysis"
	"rundown/analysis/beat"
	"rundown/analysis/rate"
)

var update = flag.Bool("update", false, "write the golden files anew")

// night is a run with something of everything.
func night() *analysis.Summary {
	return &analysis.Summary{
		Schema: analysis.Schema,
		Status: analysis.OK,
		Recording: analysis.Recording{
			Paths: []string{"nights/first wind.wav", "nights/first wind-2.wav"}, SampleRate: 44100, Channels: 2, Channel: 2,
			BitsPerSample: 16, Duration: 29530.4, ClockPPM: 0,
			Problems: []string{"nights/first wind-2.wav ends in the middle of a sample: the recorder was cut off."},
		},
		Beat: analysis.Beat{
			Nominal: 18000, Source: rate.FromCustom, Measured: 18001.2512, Period: 0.39997,
			Counted: 147612, Heard: 147598, Jitter: 31.2e-6, First: 0.8, Last: 29521, Mark: analysis.MidLift,
		},
		Ending:     &analysis.Ending{Last: 29521, Stopped: true},
		Rate:       analysis.Rate{Mean: 6.0213, SE: 0.0123, First: 12.41, FirstSE: 0.21, Last: -3.06, LastSE: 0.34, Spread: 15.47, Lost: 0.0123},
		BeatError:  analysis.BeatError{Mean: -0.8421, SE: 0.0042},
		Amplitude:  analysis.Amplitude{Kind: "degrees", Mean: 241.2, SE: 0.31, First: 270.3, Last: 188.9},
		StableBand: analysis.StableBand{Found: true, Tolerance: 10, Start: 2520, End: 19080, Mean: 7.81, SE: 0.021, Spread: 8.93},
		Barrel:     &analysis.Barrel{Name: "barrel", Turns: 1.025, BandStart: 0.0875, BandEnd: 0.6625},
		Events:     map[beat.Kind]int{beat.Late: 3, beat.Missed: 1, beat.Stop: 1},
		Recurrences: []analysis.Recurrence{{
			Kind: "events", PeriodBeats: 30, PhaseBeats: 17, Occurrences: 3, Opportunities: 4920, Size: 4.1, PValue: 3e-5,
			Match: "escape arbor, one turn",
		}},
		Files: map[string]string{"rate": "rate.png"},
		Clips: []analysis.ClipFile{{File: "clips/01-late.wav"}},
	}
}

// quiet is a recording without a beat.
func quiet() *analysis.Summary {
	return &analysis.Summary{
		Schema: analysis.Schema, Status: analysis.NoBeat,
		HeardInstead: "Only a hum of 50 Hz and its harmonics was heard.",
		Recording:    analysis.Recording{Paths: []string{"-"}, SampleRate: 8000, Channels: 1, BitsPerSample: 8, Duration: 42.04, ClockPPM: 12.5, ClockVerified: true},
		Beat:         analysis.Beat{Nominal: analysis.None(), Measured: analysis.None(), Period: analysis.None(), Jitter: analysis.None()},
		StableBand:   analysis.StableBand{Tolerance: 10},
	}
}

// plain is a run whose lift could not be measured, without a steady stretch.
func plain() *analysis.Summary {
	s := night()
	s.Recording = analysis.Recording{Paths: []string{"night.wav"}, SampleRate: 48000, Channels: 1, Channel: 1, BitsPerSample: 24, Duration: 754, ClockPPM: -37.5, ClockVerified: true, ClockSE: 0.42, ClockSource: analysis.ClockGiven}
	s.Rate.ClockSE = 0.036
	s.Stability = &analysis.Stability{Within: "run", Wander: 1.234, WanderLow: 0.88, WanderHigh: 2.1, From: 480, Noise: "flicker frequency"}
	s.Beat.Source, s.Beat.Nominal, s.Beat.Mark = rate.FromMeasured, 5612.34, "clearest"
	s.Rate.SE, s.Rate.Lost = analysis.None(), 0
	s.Amplitude = analysis.Amplitude{Kind: "level", Mean: -31.4, SE: 0.1, First: -30.2, Last: -33.1}
	s.StableBand, s.Barrel, s.Recurrences, s.Clips = analysis.StableBand{Tolerance: 2.5}, nil, nil, nil
	s.Events = map[beat.Kind]int{}
	s.Ending = &analysis.Ending{Last: 29521}
	return s
}

func TestText(t *testing.T) {
	for name, s := range map[string]*analysis.Summary{"night": night(), "quiet": quiet(), "plain": plain()} {
		var got bytes.Buffer
		if err := Text(&got, s, "nights/first wind.rundown"); err != nil {
			t.Fatal(err)
		}
		golden := filepath.Join("testdata", name+".txt")
		if *update {
			if err := os.WriteFile(golden, got.Bytes(), 0o666); err != nil {
				t.Fatal(err)
			}
		}
		want, err := os.ReadFile(golden)
		if err != nil {
			t.Fatal(err)
		}
		if !bytes.Equal(got.Bytes(), want) {
			t.Errorf("%s: got\n%s\nwant\n%s", name, got.Bytes(), want)
		}
		for line := range strings.Lines(got.String()) {
			if n := utf8.RuneCountInString(line) - 1; n > textWidth {
				t.Errorf("%s: a line of %d characters: %s", name, n, line)
			}
		}
	}
}
