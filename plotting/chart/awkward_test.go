package chart

import (
	"bytes"
	"errors"
	"fmt"
	"image/png"
	"maps"
	"math"
	"slices"
	"strings"
	"sync"
	"testing"

	"gonum.org/v1/plot/vg"

	"rundown/analysis"
	"rundown/analysis/beat"
	"rundown/analysis/contacts"
	"rundown/analysis/fault"
	"rundown/analysis/rate"
	"rundown/analysis/series"
)

var (
	nan  = math.NaN()
	inf  = math.Inf(1)
	none = rate.Value{X: nan, SE: nan}
)

// plainRun is a run of windows of one minute with the given rates.
func plainRun(rates ...float64) Run {
	r := Run{Kind: rate.Degrees}
	for i, x := range rates {
		v := func(x float64) rate.Value { return rate.Value{X: x, SE: 0.1} }
		w := rate.Window{Start: minute * float64(i), End: minute * float64(i+1), Beats: 300, Heard: 300,
			Rate: v(x), Period: v(0.4), BeatError: v(0.001), Amplitude: v(270)}
		r.Windows = append(r.Windows, w)
	}
	return r
}

// but is a run with something changed.
func but(r Run, change func(*Run)) Run {
	change(&r)
	return r
}

// eachWindow changes every window.
func eachWindow(change func(w *rate.Window)) func(*Run) {
	return func(r *Run) {
		for i := range r.Windows {
			change(&r.Windows[i])
		}
	}
}

// all sets every figure of a window.
func all(w *rate.Window, v rate.Value) {
	w.Rate, w.Period, w.BeatError, w.Amplitude = v, v, v, v
}

// awkwardRuns are runs that a chart must survive.
func awkwardRuns() map[string]Run {
	return map[string]Run{
		"nothing":                {},
		"one window":             plainRun(3),
		"two windows":            plainRun(3, -4),
		"constant":               plainRun(5, 5, 5, 5, 5, 5, 5, 5),
		"sample":                 sampleRun(480, 60),
		"five seconds":           sampleRun(5, 1),
		"half a second":          sampleRun(5, 0.1),
		"three days":             sampleRun(72*60, 60),
		"eight days":             sampleRun(11520, 60),
		"ninety days":            sampleRun(400, 5*hour),
		"no figures":             but(plainRun(1, 2, 3), eachWindow(func(w *rate.Window) { all(w, none) })),
		"not heard":              but(plainRun(1, 2, 3), eachWindow(func(w *rate.Window) { all(w, none); w.Heard = 0 })),
		"infinite":               but(plainRun(1, 2, 3), eachWindow(func(w *rate.Window) { all(w, rate.Value{X: inf, SE: inf}) })),
		"no errors":              but(plainRun(1, 2, 3), eachWindow(func(w *rate.Window) { all(w, rate.Value{X: 1, SE: nan}) })),
		"infinite errors":        but(plainRun(1, 2, 3), eachWindow(func(w *rate.Window) { all(w, rate.Value{X: 1, SE: inf}) })),
		"huge errors":            but(plainRun(1, 2, 3), eachWindow(func(w *rate.Window) { all(w, rate.Value{X: 1, SE: 1e12}) })),
		"zero errors":            but(plainRun(1, 1, 1), eachWindow(func(w *rate.Window) { all(w, rate.Value{X: 1, SE: 0}) })),
		"all zero":               but(plainRun(0, 0), eachWindow(func(w *rate.Window) { all(w, rate.Value{}) })),
		"huge":                   plainRun(1e12, -1e12, 3e12, 1, 2, 3),
		"tiny":                   plainRun(1e-12, 2e-12, 3e-12),
		"every other":            plainRun(1, nan, 2, nan, 3, nan, 4, nan),
		"windows without length": but(plainRun(1, 2), eachWindow(func(w *rate.Window) { w.Start, w.End = 0, 0 })),
		"times not known":        but(plainRun(1, 2), eachWindow(func(w *rate.Window) { w.Start, w.End = nan, nan })),
		"level":                  but(sampleRun(50, 60), func(r *Run) { r.Kind = rate.Level }),
		"lift time":              but(sampleRun(50, 60), func(r *Run) { r.Kind = rate.LiftTime }),
		"no amplitude":           but(plainRun(1, 2), func(r *Run) { r.Kind = ""; r.Windows[0].Amplitude, r.Windows[1].Amplitude = none, none }),
		"smoothed far away":      but(plainRun(1, 2, 3), func(r *Run) { r.Windows[0].Smoothed.X = 1e9; r.Windows[2].Smoothed.X = -1e9 }),
		"band outside":           but(plainRun(1, 2, 3), func(r *Run) { r.Band = &rate.Band{Start: -500, End: 9e9, Mean: none, Spread: nan} }),
		"band at the edge":       but(sampleRun(100, 60), func(r *Run) { r.Band = &rate.Band{Start: 5990, End: 6000, Mean: rate.Value{X: 1}} }),
		"band not known":         but(plainRun(1, 2, 3), func(r *Run) { r.Band = &rate.Band{Start: nan, End: nan, Mean: none, Spread: nan} }),
		"turns not known":        but(plainRun(1, 2, 3), func(r *Run) { r.Turns = &Turns{} }),
		"turns too long":         but(plainRun(1, 2, 3), func(r *Run) { r.Turns = &Turns{strings.Repeat("great wheel ", 50), 0, 100} }),
		"turns too short":        but(plainRun(1, 2, 3), func(r *Run) { r.Turns = &Turns{"fly", -5, 1e-3} }),
		"events outside":         but(plainRun(1, 2, 3), events(beat.Event{Kind: beat.Stop, Start: -10, End: 1e6}, beat.Event{Kind: beat.Late, Start: 1e6, End: 1e6})),
		"events not known":       but(plainRun(1, 2, 3), events(beat.Event{Kind: beat.Stop, Start: nan, End: nan}, beat.Event{Kind: "other", Start: 1, End: 2})),
		"stop at the end":        but(plainRun(1, 2, nan), events(beat.Event{Kind: beat.Stop, Start: 121, End: 180})),
		"only a stop":            but(plainRun(nan, nan, nan), events(beat.Event{Kind: beat.Stop, Start: 0, End: 180})),
		"many stops":             but(sampleRun(100, 60), func(r *Run) { r.Events = manyStops() }),
		"long name":              but(plainRun(1, 2, 3), func(r *Run) { r.Heading = Heading{strings.Repeat("an endless name ", 100), 1e15} }),
		"strange name":           but(plainRun(1, 2, 3), func(r *Run) { r.Heading = Heading{"a\x00b\n\xff\u202e日本🕰<&>\"'", inf} }),
	}
}

func events(es ...beat.Event) func(*Run) { return func(r *Run) { r.Events = es } }

func manyStops() []beat.Event {
	var es []beat.Event
	for t := 0.0; t < 6000; t += 61 {
		es = append(es, beat.Event{Kind: beat.Stop, Start: t, End: t + 20})
	}
	return es
}

// awkwardFigures are all charts of all awkward runs, and awkward charts of
// other things. They are made once: drawing doesn't change them.
var awkwardFigures = sync.OnceValue(func() map[string]*Figure {
	fs := map[string]*Figure{}
	for name, r := range awkwardRuns() {
		fs["rate: "+name] = Rate(r)
		fs["period: "+name] = Period(r)
		fs["amplitude: "+name] = Amplitude(r)
		fs["beat error: "+name] = BeatError(r)
		fs["isochronism: "+name] = Isochronism(r)
		fs["hesitations: "+name] = Hesitations(r, awkwardRecurrences(), Turn{Arbor: "escape wheel", Beats: 30, Teeth: 15})
		fs["compare: "+name] = Compare([]Run{r}, []Run{plainRun(4, 5, 6), r}, sampleDifference(len(r.Windows)%7))
		fs["environment: "+name] = Environment(r, awkwardCourses(len(r.Windows)))
	}
	for name, l := range awkwardLineups() {
		fs["runs: "+name] = Runs(l)
	}
	for _, known := range []bool{true, false} {
		fs[fmt.Sprint("beat: known ", known)] = Beat(Heading{}, samplePortraits(known), "the middle of the lift", "")
	}
	fs["beat: nothing"] = Beat(Heading{}, nil, "", "")
	fs["beat: silence"] = Beat(Heading{}, []Portrait{{Portrait: contacts.Portrait{Sides: [2]contacts.Sound{{Samples: make([]float64, 3)}}}}}, "", strings.Repeat("Nobody knows why. ", 30))
	for name, t := range awkwardTurns() {
		fs["fold: "+name] = Fold(Heading{}, t, awkwardRecurrences())
	}
	for name, f := range awkwardMaps() {
		fs["map: "+name] = f
	}
	for name, ss := range awkwardStabilities() {
		fs["stability: "+name] = Stability(Heading{}, ss, sampleFloors()...)
		fs["stability, no floors: "+name] = Stability(Heading{}, ss)
	}
	maps.Copy(fs, fuseeFigures())
	return fs
})

// awkwardCourses are courses of so many figures: one that moves the rate, ones of
// which nothing or little is known, one that does not change, and one too many.
func awkwardCourses(n int) []Course {
	cs := []Course{
		{"temperature", "°C", make([]float64, n), 0.3}, {strings.Repeat("an endless name ", 20), "a unit without end", make([]float64, n), 0},
		{"", "", make([]float64, n), 0}, {"a\x00\n日本<&>", "%", make([]float64, n), inf}, {"pressure", "hPa", make([]float64, n), 0},
	}
	for i := range n {
		cs[0].Values[i] = 20 + float64(i%7)
		cs[1].Values[i] = nan
		if i%3 == 0 {
			cs[3].Values[i] = nan
		}
	}
	return cs
}

// lineup is a series of runs of some names, labels and figures, a row a figure.
func lineup(names, labels []string, rows ...[]rate.Value) *series.Series {
	s := &series.Series{Order: series.ByTime}
	for i, name := range names {
		r := series.Run{Name: name}
		if labels != nil {
			s.Order, r.Notes.Label = series.ByLabel, labels[i]
		}
		for _, row := range rows {
			r.Values = append(r.Values, series.Value{X: analysis.Number(row[i].X), SE: analysis.Number(row[i].SE)})
		}
		s.Runs = append(s.Runs, r)
	}
	for range rows {
		s.Figures = append(s.Figures, series.Figure{Label: "mean rate", Unit: "s/day"})
	}
	return s
}

func awkwardLineups() map[string]*series.Series {
	row := func(values ...rate.Value) []rate.Value { return values }
	var names, labels []string
	for i := range 200 {
		names = append(names, strings.Repeat("night ", i%9))
		labels = append(labels, fmt.Sprint(i/17))
	}
	return map[string]*series.Series{
		"one":           lineup([]string{"a"}, nil, row(rate.Value{X: 3, SE: 0.1})),
		"nothing known": lineup([]string{"a", "b"}, nil, row(none, none), row(rate.Value{X: inf}, none)),
		"all alike":     lineup([]string{"a", "b"}, []string{"", ""}, row(rate.Value{}, rate.Value{})),
		"strange names": lineup([]string{"a\x00b\n\xff\u202e日本🕰<&>", strings.Repeat("an endless name ", 90)}, nil, row(rate.Value{X: 1}, rate.Value{X: 2})),
		"many":          lineup(names, labels, slices.Repeat(row(rate.Value{X: 1, SE: 1}, none, rate.Value{X: -3, SE: nan}, rate.Value{X: 1e9, SE: inf}), 50)),
	}
}

func awkwardTurns() map[string]Turn {
	wide := sampleTurn(30, 15)
	wide.Mean[3].SE = 1e6
	silent := sampleTurn(30, 15)
	for i := range silent.Mean {
		silent.Mean[i] = none
	}
	return map[string]Turn{
		"sample":        sampleTurn(30, 15),
		"by beats":      sampleTurn(31, 0),
		"many teeth":    sampleTurn(480, 160),
		"few positions": {Arbor: "fly", Beats: 0.7, Teeth: 1, Turns: 1, Mean: []rate.Value{{X: 1e-3}}, Last: -1},
		"no positions":  {Arbor: "", Beats: 30, Teeth: 15},
		"silent":        silent,
		"long name":     {Arbor: strings.Repeat("wheel of the ", 50), Beats: 4, Teeth: 2, Mean: make([]rate.Value, 4)},
		"one wide band": wide,
		"all zero":      {Arbor: "x", Beats: 4, Teeth: 2, Mean: make([]rate.Value, 4)},
	}
}

func awkwardRecurrences() []fault.Recurrence {
	return []fault.Recurrence{
		{},
		{Kind: "events", PeriodBeats: 30, PhaseBeats: 10, Occurrences: 41, Opportunities: 210, Size: 0.003, PValue: 1e-12},
		{Kind: "events", PeriodBeats: 60, PhaseBeats: 41, Occurrences: 1, Opportunities: 1, Size: 0.003, PValue: 0.04},
		{Kind: "modulation", PeriodBeats: 30, PhaseBeats: 29.99, Occurrences: 210, Opportunities: 210, Size: 1e-4, PValue: 0},
		{Kind: "modulation", PeriodBeats: nan, PhaseBeats: nan, PValue: nan},
		{Kind: "modulation", PeriodBeats: 30, PhaseBeats: 11, PValue: 1},
		{Kind: "modulation", PeriodBeats: 30, PhaseBeats: 1, PValue: 1},
	}
}

// awkwardMaps are maps of all kinds, with 15 teeth.
func awkwardMaps() map[string]*Figure {
	maps := map[string]*Figure{"empty": Map(Heading{}, fault.Map{Columns: 30}, nil, 15, nil)}
	add := func(name string, m fault.Map, starts []float64) {
		maps[name], maps[name+", by beats"] = drawMap(m, starts, 15), drawMap(m, starts, 0)
	}
	for name, size := range map[string][2]int{"short": {30, 200}, "long": {30, 2000}, "night": {30, 4800}, "one column": {1, 50}, "one row": {30, 1}} {
		m, starts := sampleMap(size[0], size[1])
		add(name, m, starts)
	}
	m, starts := turnsOf(30, 100, func(int) float64 { return 0 })
	add("all zero", m, starts)
	m, starts = turnsOf(30, 100, func(int) float64 { return nan })
	add("silent", m, starts)
	m, starts = turnsOf(30, 100, func(beat int) float64 { return 1e-3 * math.Sin(float64(beat)) })
	for row := range starts {
		starts[row] += float64(row/30) * hour
	}
	add("stops", m, starts)
	m, _ = turnsOf(30, 3, func(int) float64 { return 1e-3 })
	m.TurnsPerRow = 4096
	add("far apart", m, []float64{0, 0, 1e11, 2e11})
	return maps
}

func awkwardStabilities() map[string][]rate.Stability {
	return map[string][]rate.Stability{
		"sample":                sampleStabilities(),
		"none":                  nil,
		"one":                   {stability(60, 1e-6, 5e-7, 2e-6, 1e-7)},
		"no interval":           {stability(1, 1e-6, nan, nan, nan), stability(2, 1e-6, nan, nan, 0)},
		"interval from nothing": {stability(1, 1e-6, 0, 1e-5, 1e-9), stability(2, 2e-6, -1, inf, inf)},
		"hardly known":          {stability(1, 1e-6, 1e-9, 1, 1e-6)},
		"not positive":          {stability(0, 1e-6, 0, 1, 1), stability(1, 0, 0, 1, 1), stability(nan, nan, nan, nan, nan)},
		"wide":                  {stability(1e-3, 1e-3, 9e-4, 2e-3, 1e-5), stability(1e6, 1e-12, 9e-13, 2e-12, 1e-14)},
	}
}

func TestAwkwardInputsAreDrawn(t *testing.T) {
	for name, f := range awkwardFigures() {
		t.Run(name, func(t *testing.T) {
			t.Parallel()
			w, h := float64(figureWidth/vg.Millimeter), float64(f.height/vg.Millimeter)
			if w > 181 || h > 260 {
				t.Errorf("%g × %g mm don't fit a page", w, h)
			}
			if !picturesToo(name) {
				return
			}
			img, err := png.Decode(bytes.NewReader(picture(t, f)))
			if err != nil {
				t.Fatal(err)
			}
			if got := img.Bounds().Size(); math.Abs(float64(got.X)/w*25.4-dpi) > 0.5 || math.Abs(float64(got.Y)/h*25.4-dpi) > 0.5 {
				t.Errorf("%v dots for %g × %g mm", got, w, h)
			}
		})
	}
}

// picturesToo picks the charts that are written as PNG, which takes
// longer than to record what is drawn, as the tests of overlap do: those of one
// kind with every run, and some of every kind.
func picturesToo(name string) bool {
	for _, part := range []string{"rate: ", "map: one", ": sample", ": stops", ": huge"} {
		if strings.Contains(name, part) {
			return true
		}
	}
	return false
}

// picture is a figure as PNG.
func picture(t *testing.T, f *Figure) []byte {
	t.Helper()
	var b bytes.Buffer
	if err := f.WritePNG(&b); err != nil {
		t.Fatal(err)
	}
	return b.Bytes()
}

type brokenWriter struct{}

func (brokenWriter) Write([]byte) (int, error) { return 0, errBroken }

var errBroken = errors.New("disk full")

func TestErrorsOfTheWriterAreReturned(t *testing.T) {
	f := Rate(plainRun(1, 2))
	if err := f.WritePNG(brokenWriter{}); !errors.Is(err, errBroken) {
		t.Errorf("WritePNG: %v", err)
	}
}

func TestSameInputSameBytes(t *testing.T) {
	make := map[string]func() *Figure{
		"rate":        func() *Figure { return Rate(sampleRun(480, 60)) },
		"isochronism": func() *Figure { return Isochronism(sampleRun(480, 60)) },
		"compare": func() *Figure {
			return Compare([]Run{sampleRun(480, 60)}, []Run{sampleRun(300, 60)}, sampleDifference(300))
		},
		"environment": func() *Figure { return Environment(sampleRun(480, 60), awkwardCourses(480)) },
		"runs":        func() *Figure { return Runs(awkwardLineups()["many"]) },
		"fold":        func() *Figure { return Fold(Heading{}, sampleTurn(30, 15), awkwardRecurrences()) },
		"map":         func() *Figure { return awkwardMap(30, 200) },
		"stability":   func() *Figure { return Stability(Heading{}, sampleStabilities(), sampleFloors()...) },
	}
	for name, figure := range make {
		t.Run(name, func(t *testing.T) {
			t.Parallel() // charts must not disturb each other
			f := figure()
			first := picture(t, f)
			if !bytes.Equal(first, picture(t, f)) {
				t.Error("drawn twice, the chart differs")
			}
			if !bytes.Equal(first, picture(t, figure())) {
				t.Error("made twice, the chart differs")
			}
		})
	}
}
