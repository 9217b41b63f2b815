package chart

import (
	"fmt"
	"math"
	"slices"
	"strings"
	"testing"

	"rundown/analysis/beat"
	"rundown/analysis/compare"
	"rundown/analysis/fault"
	"rundown/analysis/rate"
)

// said lists what is written on a figure.
func said(f *Figure) []string {
	var ts []string
	for _, l := range labels(f) {
		ts = append(ts, strings.ReplaceAll(l.text, "\u00a0", " "))
	}
	return ts
}

// expect checks that a figure says some things.
func expect(t *testing.T, f *Figure, want ...string) {
	t.Helper()
	all := strings.Join(said(f), "\n")
	for _, w := range want {
		if !strings.Contains(all, w) {
			t.Errorf("%s doesn't say %q but\n%s", f.Title, w, all)
		}
	}
}

// expectNot checks that a figure doesn't say some things.
func expectNot(t *testing.T, f *Figure, unwanted ...string) {
	t.Helper()
	all := strings.Join(said(f), "\n")
	for _, w := range unwanted {
		if strings.Contains(all, w) {
			t.Errorf("%s says %q:\n%s", f.Title, w, all)
		}
	}
}

func TestRateSaysWhatMatters(t *testing.T) {
	r := sampleRun(480, 60)
	r.Events = []beat.Event{
		{Kind: beat.Late, Start: 100, End: 100.2}, {Kind: beat.Late, Start: 900, End: 900.2},
		{Kind: beat.Stop, Start: 4 * hour, End: 4*hour + 90},
	}
	f := Rate(r)
	expect(t, f, "rate (s/day)", "elapsed time (h)", "turns of the barrel", "the hall clock, second winding.wav", "18 000 beats per hour",
		"stable band: 3.0 s/day wide, mean +3.100 ± 0.020 s/day, lasts 4 h 48 min",
		"late 2", "stop 1", "Stopped at 4:00:00 to 4:01:30.", "Off the scale", "49 points, the furthest of +40", "at 2:00:30")
	expectNot(t, f, "early", "masked", "no beat")
}

func TestRateCountsWhatIsOffTheScale(t *testing.T) {
	xs := make([]float64, 100)
	for i := range xs {
		xs[i] = math.Sin(float64(i))
	}
	xs[20], xs[21], xs[70] = 300, 500, -90
	f := Rate(plainRun(xs...))
	expect(t, f, "3 points, the furthest of +500.0 s/day at 0:21:30.")
	xs[20], xs[21], xs[70] = 0, 0, 0
	expectNot(t, Rate(plainRun(xs...)), "Off the scale")
}

func TestChartsWithoutABeatSaySo(t *testing.T) {
	r := awkwardRuns()["not heard"]
	for _, f := range []*Figure{Rate(r), Period(r), Amplitude(r), BeatError(r), Isochronism(r), Rate(Run{})} {
		expect(t, f, "no beat was heard")
	}
	expect(t, Amplitude(awkwardRuns()["no amplitude"]), "no level of the beats was measured")
	expect(t, awkwardFigures()["map: empty"], "no beat was heard")
	expect(t, Stability(Heading{}, nil), "the run is too short")
}

func TestAmplitudeHasTheUnitOfItsKind(t *testing.T) {
	for kind, want := range map[rate.AmplitudeKind]string{
		rate.Degrees: "amplitude (degrees)", rate.LiftTime: "lift time (ms)", rate.Level: "level of the beats (dBFS)",
	} {
		r := sampleRun(100, 60)
		r.Kind = kind
		expect(t, Amplitude(r), want)
		expect(t, Isochronism(r), want, "rate (s/day)", "elapsed time (h:min)")
	}
}

// 11 520 windows become no more points than a curve takes, with the same mean
// and a smaller error, and only those that have both figures.
func TestIsochronismAverages(t *testing.T) {
	r := sampleRun(11520, 60)
	r.Events = nil
	r.Windows[100].Rate.X = nan
	x, y := r.pairs(func(w rate.Window) rate.Value { return w.Amplitude })
	if len(x) != len(y) || len(x) < 1919 || len(x) > 1922 {
		t.Fatalf("%d and %d points of %d windows", len(x), len(y), len(r.Windows))
	}
	if se := y[3].se; math.Abs(se-0.4/math.Sqrt(6)) > 1e-9 {
		t.Errorf("standard error %g, want that of a mean of 6", se)
	}
	sum := 0.0
	for _, w := range r.Windows[18:24] {
		sum += w.Rate.X / 6
	}
	if math.Abs(y[3].x-sum) > 1e-9 {
		t.Errorf("rate %g, want %g", y[3].x, sum)
	}
	expect(t, Isochronism(r), "mean of 6 windows")
}

// On a wheel of 15 teeth, beat 10 is a tick of tooth 6, wherever it is asked
// for.
func TestFoldNumbersTeeth(t *testing.T) {
	turn := sampleTurn(30, 15) // late at position 10
	turn.Last = 30*777 + 4
	f := Fold(Heading{}, turn, []fault.Recurrence{
		{Kind: "events", PeriodBeats: 30, PhaseBeats: 10, Occurrences: 4, Opportunities: 21, Size: 0.003, PValue: 1e-9},
		{Kind: "events", PeriodBeats: 240, PhaseBeats: 10, Occurrences: 4, Opportunities: 21, Size: 0.003, PValue: 1e-9},
	})
	expect(t, f, "tooth of the escape wheel", "Latest at tooth 6", "Tooth 3 was in action at the last beat",
		"1: events every 30 beats, in 4 of 21 turns, median 3.00 ms, p < 0.001", "mean deviation (ms)", "4 790 turns")
	expectNot(t, f, "2: events")
	for beat, want := range map[float64]int{0: 1, 1: 1, 2: 2, 10: 6, 29: 15, 30: 1, 31: 1} {
		if got := turn.tooth(turn.position(beat)); got != want {
			t.Errorf("beat %g: tooth %d, want %d", beat, got, want)
		}
	}
	if pins := f.Panels[0].Pins; len(pins) != 1 || pins[0].X != turn.points()[10].t {
		t.Errorf("pins %v, want one at position 10, %g", pins, turn.points()[10].t)
	}
}

func TestFoldSaysWhatItLeavesOut(t *testing.T) {
	tooth := fault.Recurrence{Kind: fault.Events, PeriodBeats: 30, Match: "escape wheel, one turn"}
	const leftOut = "left out: they come round every 30 beats (escape wheel, one turn)"
	turn := sampleTurn(300, 80)
	turn.Arbor, turn.Elsewhere = "fourth arbor", &tooth
	f := Fold(Heading{}, turn, nil)
	expect(t, f, leftOut)
	expectNot(t, f, "pallets")
	own := Fold(Heading{}, sampleTurn(30, 15), nil)
	expect(t, own, "pallets")
	expectNot(t, own, "left out")
}

func TestFoldNumbersBeats(t *testing.T) {
	turn := sampleTurn(31, 0)
	expect(t, Fold(Heading{}, turn, nil), "beat of the turn", "Latest at beat 10", "counted from the first one heard")
	for i, p := range turn.points() {
		if math.Abs(p.t-turn.position(float64(i))) > 1e-9 {
			t.Errorf("beat %d lies at %g and at %g", i, p.t, turn.position(float64(i)))
		}
	}
}

func awkwardMap(columns, rows int) *Figure {
	m, starts := sampleMap(columns, rows)
	return drawMap(m, starts, 1)
}

func TestMapGoesOnInStrips(t *testing.T) {
	for _, c := range []struct{ turns, strips int }{{1, 1}, {200, 1}, {800, 1}, {801, 2}, {4800, 6}} {
		f := awkwardMap(2, c.turns)
		if got := len(f.Panels[0].split()); got != c.strips {
			t.Errorf("%d turns: %d strips, want %d", c.turns, got, c.strips)
		}
	}
	expect(t, awkwardFigures()["map: night"], "next strip", "deviation (µs), late is +", "elapsed time (h:min), downwards")
	expect(t, awkwardFigures()["map: stops"], "Yellow line")
	expectNot(t, awkwardFigures()["map: short"], "Yellow line", "next strip")
}

func TestCompareSetsCountsSideBySide(t *testing.T) {
	a, b := sampleRun(100, 60), plainRun(1, 2, 3)
	a.Events = append(slices.Repeat([]beat.Event{{Kind: beat.Late}}, 17), beat.Event{Kind: beat.Gap})
	b.Name = "after cleaning.wav"
	f := Compare([]Run{a}, []Run{b}, []compare.Difference{{Time: 30, Rate: 1, SE: 0.2}, {Time: 90, Rate: 2, SE: 0.2}})
	expect(t, f, "A: the hall clock", "B: after cleaning.wav", "A: stable band: 3.0 s/day wide", "B − A (s/day)", "B − A, 95 % band", "Events of A: 17 late, 1 gap.", "Events of B: none.")
	expect(t, Compare([]Run{a}, []Run{b}, nil), "no time in common")
}

func TestStabilityHasBothUnits(t *testing.T) {
	f := Stability(Heading{}, sampleStabilities(), sampleFloors()...)
	expect(t, f, "parts per million", "Allan deviation (s/day)", "95 % band", "floor: scatter of the beats", "floor: sample clock", "10 min")
	// 1 ppm is 0.0864 s/day: the same height has both labels in proportion.
	p := f.Panels[0]
	if d := p.Y.Low - p.Right.Low; math.Abs(d-math.Log10(0.0864)) > 1e-9 || math.Abs(p.Y.High-p.Right.High-d) > 1e-9 {
		t.Errorf("the scales begin at 10^%g s/day and 10^%g ppm", p.Y.Low, p.Right.Low)
	}
}

// A floor off the scale is no line to look for.
func TestStabilitySaysWhichFloorsAreOffTheScale(t *testing.T) {
	taus := []float64{minute, hour}
	f := Stability(Heading{}, sampleStabilities(), Floor{"recorder's clock", taus, []float64{1e-13, 1e-13}}, Floor{"old cable", taus, []float64{1, 1}})
	expect(t, f, "The floor of the recorder's clock lies below the scale.", "The floor of the old cable lies above the scale.", "floor: scatter of the beats")
	expectNot(t, f, "floor: recorder's clock", "floor: old cable")
}

func ExampleRate() {
	r := Run{Heading: Heading{Name: "night.wav", Nominal: 18000}}
	for i := range 480 {
		r.Windows = append(r.Windows, rate.Window{Start: 60 * float64(i), End: 60 * float64(i+1), Heard: 300, Rate: rate.Value{X: 4, SE: 0.3}})
	}
	f := Rate(r)
	fmt.Printf("%s, %s\n", f.Title, f.Panels[0].X.Label)
	// Output: Rate against elapsed time, elapsed time (h)
}

// Of several runs on a side, each has its curve, and their number its name.
func TestCompareDrawsEveryRun(t *testing.T) {
	f := Compare([]Run{plainRun(1, 2, 3), plainRun(2, 3, 4)}, []Run{plainRun(7, 8, 9)}, nil)
	expect(t, f, "A: 2 runs, ", "Runs before and after compared")
	curves := 0
	for _, s := range f.Panels[ComparedRates].Series {
		if s.Width > 0.5 && s.Band == nil {
			curves++
		}
	}
	if curves != 3 {
		t.Errorf("%d curves of three runs", curves)
	}
}

// What the temperature does is taken off the dashed curve.
func TestEnvironmentTakesOff(t *testing.T) {
	r := plainRun(1, 3, 1, 3)
	for i := range r.Windows {
		r.Windows[i].Smoothed = r.Windows[i].Rate
	}
	f := Environment(r, []Course{{"temperature", "°C", []float64{20, 24, 20, 24}, 0.5}})
	expect(t, f, "with what was logged taken off", "temperature (°C)")
	for _, s := range f.Panels[0].Series {
		if len(s.Dash) == 0 {
			continue
		}
		for _, y := range s.Y {
			if finite(y) && math.Abs(y-2) > 1e-9 {
				t.Errorf("freed of the temperature, the rate is %v, want 2", y)
			}
		}
	}
	expectNot(t, Environment(r, []Course{{"temperature", "°C", []float64{20, 24, 20, 24}, 0}}), "taken off")
}

func TestRunsStandOnGrounds(t *testing.T) {
	f := Runs(lineup([]string{"mon", "tue", "wed"}, []string{"as found", "oiled", "oiled"}, []rate.Value{{X: 1, SE: 0.1}, {X: 2, SE: 0.1}, {X: 3, SE: 0.1}}))
	expect(t, f, "mean rate (s/day)", "1 mon; 2 tue; 3 wed", "one ground")
	if a := f.Panels[0].Areas; len(a) != 1 || a[0].Boxes[0][0] != 1.5 || a[0].Boxes[0][2] != 3.5 {
		t.Errorf("grounds: %+v", a)
	}
}
