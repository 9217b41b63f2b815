package series

import (
	"bytes"
	"encoding/csv"
	"encoding/json"
	"math"
	"math/rand/v2"
	"strings"
	"testing"
	"time"

	"rundown/analysis"
	"rundown/analysis/beat"
	"rundown/analysis/environment"
	"rundown/analysis/notes"
	"rundown/analysis/rate"
	"rundown/analysis/runs"
)

// night is an analysed run of an hour with these figures.
func night(path, label, position, started string, meanRate, amplitude float64) *runs.Run {
	r := &runs.Run{Path: path, Kind: rate.Degrees}
	for i := range 60 {
		r.Windows = append(r.Windows, rate.Window{Start: 60 * float64(i), End: 60 * float64(i+1)})
	}
	r.Summary = analysis.Summary{
		Status:     analysis.OK,
		Notes:      notes.Notes{Label: label, Position: position, Started: started},
		Recording:  analysis.Recording{ClockVerified: true},
		Beat:       analysis.Beat{Nominal: 18000, First: 0, Last: 3600, Heard: 18000, Jitter: 30e-6},
		Rate:       analysis.Rate{Mean: analysis.Number(meanRate), SE: 0.01},
		BeatError:  analysis.BeatError{Mean: -0.4, SE: 0.01},
		Amplitude:  analysis.Amplitude{Mean: analysis.Number(amplitude), SE: 0.1},
		StableBand: analysis.StableBand{Found: true, Start: 600, End: 2400, Mean: analysis.Number(meanRate), SE: 0.01},
		Events:     map[beat.Kind]int{beat.Late: 3, beat.Early: 1},
	}
	return r
}

func line(t testing.TB, all []*runs.Run, by Order, log *environment.Log) *Series {
	t.Helper()
	s, err := Line(all, by, log)
	if err != nil {
		t.Fatal(err)
	}
	return s
}

func order(s *Series) string {
	var names []string
	for _, r := range s.Runs {
		names = append(names, r.Name)
	}
	return strings.Join(names, " ")
}

func TestOrder(t *testing.T) {
	a := night("a", "oiled", "", "2031-05-03T21:00:00", 3, 270)
	b := night("b", "as found", "", "2031-05-01T21:00:00+02:00", 3, 270)
	c := night("c", "oiled", "", "2031-05-02T21:00:00", 3, 270)
	unknown := night("d", "as found", "", "", 3, 270)
	for _, x := range []struct {
		all  []*runs.Run
		by   Order
		want string
	}{
		{[]*runs.Run{a, b, c}, ByTime, "b c a"}, {[]*runs.Run{a, b, c}, ByLabel, "b c a"},
		{[]*runs.Run{a, b, unknown, c}, ByTime, "a b d c"}, {[]*runs.Run{a, b, unknown, c}, ByLabel, "a c b d"},
	} {
		s := line(t, x.all, x.by, nil)
		if got := order(s); got != x.want {
			t.Errorf("by %s: %s, want %s", x.by, got, x.want)
		}
		if said := strings.Contains(strings.Join(s.Notes, " "), "order given"); said != (len(x.all) == 4) {
			t.Errorf("by %s: notes %q", x.by, s.Notes)
		}
	}
	if _, err := Line(nil, ByTime, nil); err == nil {
		t.Error("a series of nothing")
	}
}

func TestFiguresOfARun(t *testing.T) {
	s := line(t, []*runs.Run{night("a", "", "", "", 3, 270)}, ByTime, nil)
	want := []Value{{3, 0.01}, {3, 0.01}, {0.5, analysis.Number(1. / 60 / math.Sqrt(6))}, {0.4, 0.01}, {270, 0.1}, {30, analysis.Number(30 / math.Sqrt(36000))}, {4, 2}}
	for k, w := range want {
		got := s.Runs[0].Values[k]
		if math.Abs(float64(got.X-w.X)) > 1e-9 || math.Abs(float64(got.SE-w.SE)) > 1e-9 {
			t.Errorf("%s is %v, want %v", s.Figures[k].Name, got, w)
		}
	}
	if s.Labels != nil || len(s.Positions) > 0 || s.Effects != nil {
		t.Errorf("one run without notes: %+v", s)
	}
}

// The means of labels have the scatter within them, pooled: 1 and 3, and 7 and 9,
// differ by a standard deviation of √2.
func TestLabelsAndPositions(t *testing.T) {
	all := []*runs.Run{
		night("a", "as found", "pendant down", "", 1, 250), night("b", "as found", "dial up", "", 3, 270),
		night("c", "oiled", "dial up", "", 7, 280), night("d", "oiled", "dial up", "", 9, 282), night("e", "oiled", "hung up", "", 2, 200),
	}
	s := line(t, all[:4], ByLabel, nil)
	if len(s.Labels) != 2 || s.Labels[0].Values[meanRate].X != 2 || s.Labels[1].Values[meanRate].X != 8 || math.Abs(float64(s.Labels[1].Values[meanRate].SE)-1) > 1e-9 {
		t.Errorf("labels: %+v", s.Labels)
	}
	s = line(t, all, ByTime, nil)
	var names []string
	for _, g := range s.Positions {
		names = append(names, g.Name())
	}
	if got := strings.Join(names, "; "); got != "as found, dial up; as found, pendant down; oiled, dial up; oiled, hung up" {
		t.Errorf("positions: %s", got)
	}
	// Two runs in one position: they differ by √2, and their mean is known to 1.
	if d := s.Spans[2]; len(s.Spans) != 4 || d.From != "hung up" || d.To != "dial up" || d.Value.X != 6 || math.Abs(float64(d.Value.SE)-math.Sqrt(1+2)) > 1e-9 {
		t.Errorf("spans: %+v", s.Spans)
	}
	if s = line(t, all[:2], ByTime, nil); !strings.Contains(strings.Join(s.Notes, " "), "one run in each position") {
		t.Errorf("notes: %q", s.Notes)
	}
}

// Over a dozen nights at known temperatures, the coefficient is found, from notes
// and from a log.
func TestEffects(t *testing.T) {
	rng := rand.New(rand.NewPCG(8, 96))
	log := &environment.Log{Columns: []environment.Column{{Name: "temperature", Unit: "°C"}}}
	var all []*runs.Run
	began := time.Date(2031, 5, 1, 21, 0, 0, 0, time.UTC)
	for i := range 12 {
		warm := 20 + 4*math.Sin(float64(i))
		at := began.AddDate(0, 0, i)
		r := night(string(rune('a'+i)), "", "", at.Format("2006-01-02T15:04:05"), 3+0.5*warm+0.1*rng.NormFloat64(), 270+rng.NormFloat64())
		r.Summary.Notes.Temperature = &warm
		all = append(all, r)
		for m := range 7 {
			log.Times = append(log.Times, at.Add(time.Duration(10*m)*time.Minute))
			log.Columns[0].Values = append(log.Columns[0].Values, warm)
		}
	}
	for name, l := range map[string]*environment.Log{"noted": nil, "logged": log} {
		s := line(t, all, ByTime, l)
		found := false
		for _, e := range s.Effects["mean_rate"].Causes {
			found = found || e.Cause == "temperature" && e.Claimed && e.Low < 0.5 && e.High > 0.5 && e.SE < 0.1
		}
		if !found || !strings.Contains(strings.Join(s.Sentences(), " "), "Temperature: the rate changes by +0.5") {
			t.Errorf("%s: %+v, %q", name, s.Effects["mean_rate"], s.Sentences())
		}
	}
	if s := line(t, all[:4], ByTime, nil); s.Effects["mean_rate"] != nil || !strings.Contains(strings.Join(s.Notes, " "), "It takes 6 runs") {
		t.Errorf("four runs: %+v, %q", s.Effects, s.Notes)
	}
}

// What does not belong side by side is said, and a run without a beat has its row.
func TestUnlikeRuns(t *testing.T) {
	a, b, c := night("a", "", "", "", 3, 270), night("b", "", "", "", 3, 8), night("c", "", "", "", 3, 270)
	b.Kind = rate.LiftTime
	b.Summary.Recording.ClockVerified = false
	b.Summary.Beat.Nominal = 18001
	c.Summary.Status = analysis.NoBeat
	s := line(t, []*runs.Run{a, b, c}, ByTime, nil)
	text := strings.Join(s.Notes, " ")
	for _, want := range []string{"No beat was found in c", "amplitude of b", "1 of 3 runs", "--bph"} {
		if !strings.Contains(text, want) {
			t.Errorf("the notes lack %q: %s", want, text)
		}
	}
	if s.Runs[1].Values[amplitude].X.Known() || s.Runs[2].Values[meanRate].X.Known() {
		t.Errorf("%+v", s.Runs)
	}
}

func TestWrite(t *testing.T) {
	warm := 21.0
	a, b := night("mon/night.wav", "as found", "dial up", "2031-05-01T21:00:00", 1, 250), night("tue/night.wav", "oiled", "dial up", "", 3, 270)
	a.Summary.Notes.Temperature = &warm
	s := line(t, []*runs.Run{a, b}, ByTime, nil)
	var text bytes.Buffer
	if err := s.WriteCSV(&text); err != nil {
		t.Fatal(err)
	}
	rows, err := csv.NewReader(&text).ReadAll()
	if err != nil || len(rows) != 3 || rows[0][7] != "mean_rate" || rows[1][7] != "1" || rows[1][6] != "21" || rows[2][2] != "oiled" {
		t.Errorf("%q, %v", rows, err)
	}
	text.Reset()
	if err := analysis.WriteJSON(&text, s); err != nil {
		t.Fatal(err)
	}
	var tree map[string]any
	if err := json.Unmarshal(text.Bytes(), &tree); err != nil || tree["runs"] == nil || tree["figures"] == nil {
		t.Errorf("%v, %v", tree, err)
	}
	text.Reset()
	if err := s.WriteText(&text, "nights.series"); err != nil {
		t.Fatal(err)
	}
	for _, want := range []string{"  1  mon/night.wav  (as found; dial up; 21.0 °C; begun 2031-05-01 21:00:00)", "mean rate (s/day)", "oiled, dial up", "Results: nights.series"} {
		if !strings.Contains(text.String(), want) {
			t.Errorf("the text lacks %q:\n%s", want, text.String())
		}
	}
}
