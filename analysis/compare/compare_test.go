package compare

import (
	"bytes"
	"encoding/csv"
	"encoding/json"
	"math"
	"reflect"
	"strings"
	"testing"

	"rundown/analysis"
	"rundown/analysis/rate"
	"rundown/analysis/runs"
	"rundown/dsp/synth"
)

// hour is how long the runs of these tests last, in hours.
const hour = 1.0

// Two runs of one movement differ in nothing that is shown.
func TestSameMovement(t *testing.T) {
	const pairs = 12
	shown, all := 0, 0
	for i := range uint64(pairs) {
		m := clock(hour)
		m.Wander = []float64{0.05, 0.25, 1}[i%3]
		c := compared(t, recorded(t, m, 100+i, hour*4600), recorded(t, m, 200+i, hour*4600), Elapsed)
		for _, m := range c.Metrics {
			all++
			if m.Verdict != NoDifference {
				shown++
				t.Logf("pair %d: %s %v to %v, p %v", i, m.Name, m.Before, m.After, m.PValue)
			}
		}
	}
	if 20*shown > all {
		t.Errorf("a verdict in %d of %d figures of runs that differ in nothing", shown, all)
	}
}

// What was changed is shown, the right way round, and its size is within the
// interval.
func TestChangesAreShown(t *testing.T) {
	cases := []struct {
		metric     string
		change     func(*synth.Movement)
		difference float64
		verdict    Verdict
	}{
		{"mean_rate", func(m *synth.Movement) { m.Rate += 3 }, 3, Worse},
		{"mean_rate", func(m *synth.Movement) { m.Rate -= 3 }, -3, Better},
		{"beat_error", func(m *synth.Movement) { m.BeatError = -0.2e-3 }, -0.2, Better},
		{"band_length", func(m *synth.Movement) { m.Mainspring.RunTime *= 1.25 }, 0.25 * 0.8 * hour, Better},
		{"isochronism", func(m *synth.Movement) { m.Isochronism = 0.1 }, -0.25, Better},
		{"jitter", func(m *synth.Movement) { m.Jitter = 45e-6 }, 15, Worse},
		{"amplitude_start", func(m *synth.Movement) { m.Mainspring.Full = 325 }, 40, Better},
		{"hesitations_per_hour", func(m *synth.Movement) { m.Recurrences = synth.BadTooth(15, 21, -1, 0.2, 4e-3) }, 120, Worse},
		{"missed_per_hour", func(m *synth.Movement) { m.Faults[1].PerHour = 40 }, 39, Worse},
	}
	const pairs = 3
	before := clock(hour)
	before.Rate = 5
	var unchanged [pairs]*runs.Run
	for i := range unchanged {
		unchanged[i] = recorded(t, before, 300+uint64(i), hour*4700)
	}
	for _, c := range cases {
		within := 0
		for i, a := range unchanged {
			after := before
			after.Faults = append([]synth.Fault{}, before.Faults...)
			c.change(&after)
			m := metric(t, compared(t, a, recorded(t, after, 400+uint64(i), hour*4700), Elapsed), c.metric)
			if m.Verdict != c.verdict {
				t.Errorf("%s: %s (%v to %v, p %v)", c.metric, m.Verdict, m.Before, m.After, m.PValue)
			}
			if float64(m.Low) <= c.difference && c.difference <= float64(m.High) {
				within++
			}
		}
		if within < pairs-1 {
			t.Errorf("%s: a change of %v is within %d of %d intervals", c.metric, c.difference, within, pairs)
		}
	}
}

// A weaker wind makes another mean rate over time, and the same rate at equal
// amplitudes.
func TestAlignByAmplitude(t *testing.T) {
	before := clock(2 * hour)
	before.Reference = 262
	after := before
	after.Mainspring.Full -= 8
	a, b := recorded(t, before, 1, hour*9000), recorded(t, after, 2, hour*9000)
	if m := metric(t, compared(t, a, b, Elapsed), "mean_rate"); m.Verdict == NoDifference {
		t.Errorf("by elapsed time: %+v", m)
	}
	if m := metric(t, compared(t, a, b, Amplitude), "mean_rate"); m.Verdict != NoDifference || m.Over != likeSwings {
		t.Errorf("at equal amplitudes: %+v", m)
	}
	after.Rate += 9
	b = recorded(t, after, 2, hour*9000)
	if m := metric(t, compared(t, a, b, Amplitude), "mean_rate"); m.Verdict != Worse || m.Low > 9 || m.High < 9 {
		t.Errorf("nine seconds a day more: %+v", m)
	}
}

func TestRecurrences(t *testing.T) {
	type pair struct{ before, after *runs.Run } // of one movement
	record := func(change func(*synth.Movement)) pair {
		m := clock(hour)
		change(&m)
		return pair{recorded(t, m, 5, hour*3600), recorded(t, m, 6, hour*3600)}
	}
	sound := record(func(*synth.Movement) {})
	bad := record(func(m *synth.Movement) { m.Recurrences = synth.BadTooth(15, 21, -1, 0.3, 4e-3) })
	wavy := record(func(m *synth.Movement) { m.Modulations = []synth.Modulation{{Period: 60, PeakToPeak: 0.2e-3}} })
	tooth := analysis.Recurrence{Kind: "events", PeriodBeats: 30, Occurrences: 180, Opportunities: 600, Match: "escape wheel"}
	wave := analysis.Recurrence{Kind: "modulation", PeriodBeats: 60, Occurrences: 300, Opportunities: 300, Size: 0.2, Match: "fourth wheel"}
	none := []analysis.Recurrence{}
	cases := []struct {
		what                string
		before, after       pair
		listed, listedAfter []analysis.Recurrence
		verdict             Verdict
		note                string
	}{
		{"repaired tooth", bad, sound, []analysis.Recurrence{tooth}, none, Better, "escape wheel, every 30 beats: gone."},
		{"new tooth", sound, bad, none, []analysis.Recurrence{tooth}, Worse, "new."},
		{"same tooth", bad, bad, []analysis.Recurrence{tooth}, []analysis.Recurrence{tooth}, NoDifference, "still there."},
		{"repaired wheel", wavy, sound, []analysis.Recurrence{wave}, none, Better, "gone."},
		{"same wheel", wavy, wavy, []analysis.Recurrence{wave}, []analysis.Recurrence{wave}, NoDifference, ""},
	}
	for _, c := range cases {
		a, b := c.before.before, c.after.after
		a.Summary.Recurrences, b.Summary.Recurrences = c.listed, c.listedAfter
		m := metric(t, compared(t, a, b, Elapsed), "strongest_recurrence")
		if m.Verdict != c.verdict || !strings.Contains(m.Note, c.note) {
			t.Errorf("%s: %+v", c.what, m)
		}
	}
	a, b := bad.before, wavy.after
	a.Summary.Recurrences, b.Summary.Recurrences = []analysis.Recurrence{tooth}, []analysis.Recurrence{wave}
	c := compared(t, a, b, Elapsed)
	if m := metric(t, c, "strongest_recurrence_after"); m.Verdict != Worse || metric(t, c, "strongest_recurrence").Verdict != Better {
		t.Errorf("one gone and another new: %+v", c.Metrics)
	}
}

// Windows of other widths, and figures that only one run has, are said, not
// compared in silence.
func TestUnlikeRuns(t *testing.T) {
	a, b := recorded(t, clock(hour), 7, hour*3600), recorded(t, clock(hour), 8, hour*3600)
	b.Kind = rate.Level
	b.Summary.Recording.SampleRate = 96000
	b.Summary.Beat.Mark = "clearest"
	c := compared(t, a, b, Elapsed)
	for _, name := range []string{"amplitude_start", "amplitude_end", "isochronism", "beat_error", "jitter"} {
		if m := metric(t, c, name); m.Note == "" || m.PValue.Known() {
			t.Errorf("%s is judged: %+v", name, m)
		}
	}
	if len(c.Notes) != 2 {
		t.Errorf("notes: %q", c.Notes)
	}
	a, b = recorded(t, clock(hour), 7, hour*3600), recorded(t, clock(hour), 8, hour*3600)
	b.Widen(2)
	c = compared(t, a, b, Elapsed)
	if m := metric(t, c, "mean_rate"); m.Verdict != NoDifference || c.Before.Window != 120 || len(c.Notes) != 1 {
		t.Errorf("%+v, %q", m, c.Notes)
	}
}

// A beat error of which one run's marks leave much uncertain is no better or worse for it.
func TestUncertainBeatError(t *testing.T) {
	better := clock(hour)
	better.BeatError -= 0.2e-3
	for _, c := range []struct {
		se   analysis.Number // ms
		want Verdict
	}{{0.02, Better}, {0.3, NoDifference}} {
		a, b := recorded(t, clock(hour), 7, hour*3600), recorded(t, better, 8, hour*3600)
		a.Summary.BeatError.SE, b.Summary.BeatError.SE = 0.02, c.se
		if m := metric(t, compared(t, a, b, Elapsed), "beat_error"); m.Verdict != c.want {
			t.Errorf("± %g ms: %+v", float64(c.se), m)
		}
	}
}

// The same runs give the same bytes, and the runs are as they were.
func TestCompareIsDeterministic(t *testing.T) {
	a, b := recorded(t, clock(hour), 9, hour*3600), recorded(t, clock(hour), 10, hour*3600)
	windows := append([]rate.Window{}, a.Windows...)
	var first, second bytes.Buffer
	for _, w := range []*bytes.Buffer{&first, &second} {
		if err := analysis.WriteJSON(w, compared(t, a, b, Elapsed)); err != nil {
			t.Fatal(err)
		}
	}
	if first.String() != second.String() {
		t.Error("the second comparison differs")
	}
	for i, w := range a.Windows {
		if w.Rate != windows[i].Rate && !math.IsNaN(w.Rate.X) {
			t.Errorf("window %d was changed", i)
		}
	}
}

// The names in comparison.json are relied on by people's scripts.
func TestWrite(t *testing.T) {
	c := compared(t, recorded(t, clock(hour), 9, hour*3600), recorded(t, clock(hour), 10, hour*3600), Elapsed)
	var text bytes.Buffer
	if err := analysis.WriteJSON(&text, c); err != nil {
		t.Fatal(err)
	}
	var tree map[string]any
	if err := json.Unmarshal(text.Bytes(), &tree); err != nil {
		t.Fatal(err)
	}
	for _, name := range []string{"schema", "before", "after", "alignment", "metrics", "headline", "notes"} {
		if tree[name] == nil {
			t.Errorf("there is no %q", name)
		}
	}
	for _, name := range []string{"name", "unit", "before", "after", "difference", "low_95", "high_95", "verdict"} {
		if _, ok := tree["metrics"].([]any)[0].(map[string]any)[name]; !ok {
			t.Errorf("a metric has no %q", name)
		}
	}
	var back Comparison
	if err := json.Unmarshal(text.Bytes(), &back); err != nil || !reflect.DeepEqual(back.Headline, c.Headline) {
		t.Errorf("came back as %+v, %v", back, err)
	}
	text.Reset()
	if err := c.WriteCSV(&text); err != nil {
		t.Fatal(err)
	}
	rows, err := csv.NewReader(&text).ReadAll()
	if err != nil || len(rows) != 1+len(c.Metrics) || rows[1][0] != "mean_rate" {
		t.Errorf("%d rows, %v", len(rows), err)
	}
	text.Reset()
	if err := c.WriteText(&text, "bench.comparison"); err != nil {
		t.Fatal(err)
	}
	for line := range strings.Lines(text.String()) {
		if n := len([]rune(line)); n > 100 && !strings.Contains(line, ". ") && !strings.HasPrefix(line, "No difference") {
			t.Errorf("%d characters wide: %q", n, line)
		}
	}
	for _, want := range []string{"mean rate (s/day)", "no difference shown", "Results: bench.comparison", c.Headline} {
		if !strings.Contains(text.String(), want) {
			t.Errorf("the text lacks %q:\n%s", want, text.String())
		}
	}
}

func BenchmarkRuns(b *testing.B) {
	x, y := recorded(b, clock(8), 9, 30*3600/3), recorded(b, clock(8), 10, 30*3600/3)
	for b.Loop() {
		if _, err := Runs([]*runs.Run{x}, []*runs.Run{y}, Options{}); err != nil {
			b.Fatal(err)
		}
	}
}
