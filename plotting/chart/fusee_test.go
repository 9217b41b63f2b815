package chart

import (
	"math"
	"strings"
	"testing"

	"rundown/analysis/fusee"
	"rundown/analysis/rate"
	"rundown/analysis/runs"
)

// fuseeRun is a run of 7 turns of 4 hours in windows of ten minutes.
func fuseeRun(windows int) *runs.Run {
	r := &runs.Run{Path: "night.rundown", Kind: rate.Degrees}
	r.Summary.Beat.Nominal = 18000
	for i := range windows {
		x := 5 - 8*math.Pow(float64(i)/168, 3)
		r.Windows = append(r.Windows, rate.Window{Start: 600 * float64(i), End: 600 * float64(i+1), Beats: 3000, Heard: 3000,
			Period: rate.Value{X: 0.4}, Rate: rate.Value{X: x, SE: 0.1}, Amplitude: rate.Value{X: 280 - 0.4*float64(i), SE: 1}})
	}
	rate.Smooth(r.Windows)
	return r
}

// fuseeResults are results that a chart must survive.
func fuseeResults() map[string]*fusee.Result {
	table := &fusee.Table{}
	for i := range 15 {
		x := float64(i) / 2
		table.Turns, table.Down = append(table.Turns, x), append(table.Down, 600-40*x-3*math.Pow(x-3, 3))
		table.Up = append(table.Up, 660-42*x-3*math.Pow(x-3, 3))
	}
	oneWay := &fusee.Table{Turns: table.Turns[1:], Down: table.Down[1:]}
	o := &fusee.Options{BarrelDiameter: 32, Chain: 1.1, ChainWidth: 1.1, Turns: 5.5, SetUp: 1, Pitch: 1.4, Step: 0.25, Rounding: 0.01}
	full := *o
	full.BarrelTurns = 6
	results := map[string]*fusee.Result{}
	for name, in := range map[string]fusee.Input{
		"table":        {Table: table, Options: o, Uneven: 20},
		"with a run":   {Table: table, Options: o, Run: fuseeRun(168), Tolerance: 5},
		"one way":      {Table: oneWay, Uneven: 1e-3, Units: fusee.Units{Grams: true}},
		"full wind":    {Table: table, Options: &full, Uneven: 500},
		"amplitude":    {Run: fuseeRun(168), Exponent: 1.5, Options: o, Tolerance: 1e-6},
		"a short run":  {Table: table, Options: o, Run: fuseeRun(5), Tolerance: 5},
		"a short wind": {Table: &fusee.Table{Turns: []float64{0, 0.1, 0.2}, Down: []float64{3, 2, 0}}, Uneven: 20},
	} {
		in.HoursPerTurn, in.TablePath = 4, "torque.csv"
		r, err := fusee.New(in)
		if err != nil {
			panic(name + ": " + err.Error())
		}
		results[name] = r
	}
	return results
}

// fuseeFigures are all charts of them.
func fuseeFigures() map[string]*Figure {
	fs := map[string]*Figure{}
	for name, r := range fuseeResults() {
		h := Heading{Name: strings.Repeat("an endless name ", 30)}
		fs["torque: "+name], fs["stop-work: "+name] = Torque(h, r), StopWork(h, r)
		if r.Fusee != nil {
			fs["evenness: "+name] = Evenness(h, r)
		}
		if r.Evened != nil {
			fs["evened rate: "+name] = EvenedRate(h, r)
		}
	}
	return fs
}

func TestFuseeChartsSayWhatMatters(t *testing.T) {
	fs := fuseeFigures()
	expect(t, fs["torque: table"], "torque (N·mm)", "measured as it runs down", "measured as it is wound", "the fusee uses 0.50 to 6.00", "stop-work keeps")
	expect(t, fs["torque: one way"], "torque (gf·cm)")
	expectNot(t, fs["torque: one way"], "as it is wound", "the fusee", "stop-work")
	expect(t, fs["torque: amplitude"], "torque (% of the greatest)", "No torque was measured")
	expect(t, fs["stop-work: table"], "torque changes by (%)", "tolerance, 20.0 %", "recommended: ")
	expectNot(t, fs["stop-work: table"], "rate changes by")
	expect(t, fs["stop-work: with a run"], "rate changes by (s/day)", "tolerance, 5.0 s/day", "recommended: ")
	expect(t, fs["stop-work: a short run"], "the run does not cover half a turn")
	expectNot(t, fs["stop-work: amplitude"], "recommended: ")
	expect(t, fs["evenness: table"], "torque of the barrel alone", "with half a turn more set-up", "close up (% of the mean)")
	expectNot(t, fs["evenness: full wind"], "with half a turn more set-up")
	expect(t, fs["evened rate: with a run"], "with the fusee, ± one standard error", "as it is", "One run cannot tell")
	if fs["evened rate: a short run"] != nil || fs["evened rate: table"] != nil {
		t.Error("a rate that nobody knows")
	}
}

// The wind begins at the left, with the small end of the groove.
func TestEvennessBeginsAtFullWind(t *testing.T) {
	p := Evenness(Heading{}, fuseeResults()["table"]).Panels[0]
	own := p.Series[0]
	if n := len(own.Y); own.Y[0] < own.Y[n-1] || own.X[0] > own.X[n-1] || own.X[0] > 0.1 {
		t.Errorf("the barrel gives %v at %v and %v at %v", own.Y[0], own.X[0], own.Y[n-1], own.X[n-1])
	}
	even := p.Series[1]
	for i, y := range even.Y {
		if math.Abs(y-100) > 1 {
			t.Errorf("%v %% at %v", y, even.X[i])
		}
	}
}
