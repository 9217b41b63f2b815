package prose

import (
	"strings"
	"testing"

	"rundown/analysis"
	"rundown/analysis/beat"
)

// ran is a run of eight hours that never stopped, steady, in beat and without
// events.
func ran() *analysis.Summary {
	return &analysis.Summary{
		Status:     analysis.OK,
		Recording:  analysis.Recording{Duration: 28800, ClockVerified: true},
		Beat:       analysis.Beat{Period: 0.4, First: 0.1, Last: 28799.9, Counted: 144000, Heard: 144000},
		Ending:     &analysis.Ending{Last: 28799.9},
		Rate:       analysis.Rate{Mean: 3.2, SE: 0.011, Lost: 0},
		BeatError:  analysis.BeatError{Mean: 0.4, SE: 0.01},
		StableBand: analysis.StableBand{Found: true, Tolerance: 10, Start: 3600, End: 20000, Mean: 2.5, SE: 0.02, Spread: 8.8},
		Events:     map[beat.Kind]int{},
	}
}

func TestFinding(t *testing.T) {
	cases := []struct {
		name   string
		change func(*analysis.Summary)
		want   string
	}{
		{"good", func(*analysis.Summary) {},
			"The movement ran for 8 h 00 min without a stop. Its rate is steadiest from 1 h 00 min to 5 h 33 min: " +
				"there it is +2.500 ± 0.020 s/day in the mean and changes by 8.8 s/day. It never hesitated."},
		{"unchecked clock", func(s *analysis.Summary) { s.Recording.ClockVerified = false }, "on a recorder's clock that was not checked."},
		{"stopped at the end", func(s *analysis.Summary) { s.Ending = &analysis.Ending{Last: 28000, Stopped: true} },
			"The movement ran for 7 h 47 min without a stop, and then stopped for good. "},
		{"the recorder stopped first", func(s *analysis.Summary) { s.Ending = &analysis.Ending{Last: 28000, Hidden: beat.Gap} },
			"The movement ran for 7 h 47 min without a stop; what it did from then to the end of the recording is not known: it was not recorded. "},
		{"drowned", func(s *analysis.Summary) { s.Ending = &analysis.Ending{Last: 28000, Hidden: beat.Masked} }, "is not known: the room was too loud. "},
		{"stopped on the way", func(s *analysis.Summary) { s.Ending.Stops = 1 },
			"Within 8 h 00 min the movement stood still 1 time and went on again. "},
		{"stopped on the way and at the end", func(s *analysis.Summary) { s.Ending = &analysis.Ending{Last: 28000, Stops: 2, Stopped: true} },
			"Within 7 h 47 min the movement stood still 2 times and went on again, and then stopped for good."},
		{"a few beats more", func(s *analysis.Summary) {
			s.Ending = &analysis.Ending{Last: 28000, Restarts: 1, Beats: 7, Stopped: true}
		}, "The movement ran for 7 h 47 min without a stop, and then stopped; it started again for 7 beats, and stopped for good."},
		{"a few beats more, twice", func(s *analysis.Summary) {
			s.Ending = &analysis.Ending{Last: 28000, Stops: 1, Restarts: 2, Beats: 12, Stopped: true}
		}, "Within 7 h 47 min the movement stood still 1 time and went on again, and then stopped; " +
			"it started again 2 times, for 12 beats in all, and stopped for good."},
		{"a few beats at the end of the recording", func(s *analysis.Summary) {
			s.Ending = &analysis.Ending{Last: 28000, Restarts: 1, Beats: 1}
		}, "and then stopped; it started again for 1 beat, up to the end of the recording."},
		{"a few beats, twice, at the end of the recording", func(s *analysis.Summary) {
			s.Ending = &analysis.Ending{Last: 28000, Restarts: 2, Beats: 9}
		}, "and then stopped; it started again 2 times, for 9 beats in all, the last up to the end of the recording."},
		{"how it ended is not known", func(s *analysis.Summary) { s.Ending = nil },
			"The movement was heard for 8 h 00 min."},
		{"nowhere steady", func(s *analysis.Summary) { s.StableBand = analysis.StableBand{Tolerance: 2.5} },
			"Its rate is nowhere steady: no stretch stays within 2.5 s/day; the mean is +3.200 ± 0.011 s/day."},
		{"too short", func(s *analysis.Summary) { s.StableBand = analysis.StableBand{Tolerance: 2.5, TooShort: true} },
			"The run is too short to say how steady its rate is, which takes three whole windows: the mean rate is +3.200 ± 0.011 s/day."},
		{"hesitations", func(s *analysis.Summary) { s.Events[beat.Late] = 2; s.Events[beat.Early] = 1; s.Rate.Lost = 0.0126 },
			"It hesitated 3 times, which cost it 0.013 s in all."},
		{"out of beat", func(s *analysis.Summary) { s.BeatError.Mean = -8 },
			"It is out of beat: −8.000 ± 0.010 ms, 4 % of a beat: tick to tock takes 16.00 ms less than tock to tick."},
		{"a recurrence", func(s *analysis.Summary) {
			s.Recurrences = []analysis.Recurrence{{Kind: "events", PeriodBeats: 30, Occurrences: 3, Opportunities: 4800, Size: 4, Match: "escape wheel, one turn"}}
		}, "What most wants attention comes round every 30 beats with the escape wheel, where the movement hesitates by 4 ms in 3 of 4 800 turns."},
		{"a modulation", func(s *analysis.Summary) {
			s.Recurrences = []analysis.Recurrence{{Kind: "modulation", PeriodBeats: 300, Size: 0.18}}
		}, "What most wants attention comes round every 300 beats: within such a turn the beats go early and late by 0.18 ms in all."},
		{"no beat", func(s *analysis.Summary) { s.Status = analysis.NoBeat; s.HeardInstead = "Only a hum was heard." },
			"No beat was found, so there is no rate. Only a hum was heard."},
	}
	for _, c := range cases {
		s := ran()
		c.change(s)
		if got := strings.ReplaceAll(Finding(s), space, " "); !strings.Contains(got, c.want) {
			t.Errorf("%s: %q does not say %q", c.name, got, c.want)
		}
	}
}

func TestHeld(t *testing.T) {
	s := ran()
	for mean, want := range map[analysis.Number]string{2.5: "it would gain 2.5 s a day", -2.5: "it would lose 2.5 s a day"} {
		s.StableBand.Mean = mean
		if got := strings.ReplaceAll(Held(s), space, " "); !strings.Contains(got, want) {
			t.Errorf("%q does not say %q", got, want)
		}
	}
}

func TestName(t *testing.T) {
	cases := []struct {
		paths []string
		want  string
	}{
		{nil, "standard input"},
		{[]string{"-"}, "standard input"},
		{[]string{"nights/one.wav"}, "one.wav"},
		{[]string{"one.wav", "two.wav", "three.wav"}, "one.wav and 2 more parts"},
	}
	for _, c := range cases {
		s := &analysis.Summary{Recording: analysis.Recording{Paths: c.paths}}
		if got := strings.ReplaceAll(Name(s), space, " "); got != c.want {
			t.Errorf("Name(%q) = %q, want %q", c.paths, got, c.want)
		}
	}
}

func TestAdviceOnStops(t *testing.T) {
	for name, c := range map[string]struct {
		ending analysis.Ending
		want   bool
	}{
		"ran to its end":                   {analysis.Ending{Stopped: true}, false},
		"a few beats after it had stopped": {analysis.Ending{Restarts: 3, Beats: 20, Stopped: true}, false},
		"stopped on the way":               {analysis.Ending{Stops: 1}, true},
	} {
		s := ran()
		s.Ending = &c.ending
		if got := Advice(s); strings.HasPrefix(got, "Why it stood still") != c.want {
			t.Errorf("%s: %q", name, got)
		}
	}
}
