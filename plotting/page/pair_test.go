package page

import (
	"bytes"
	"math"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/chromedp/chromedp"

	"rundown/analysis"
	"rundown/analysis/compare"
	"rundown/plotting/chart"
)

// samplePair is two runs of different length, the second of a hostile name.
func samplePair(t testing.TB) Pair {
	t.Helper()
	a, b := sampleRun(t, 40, 0, "before.wav"), sampleRun(t, 47, 0, "after.wav")
	p := Pair{
		Comparison: &compare.Comparison{
			Before:    compare.Side{Path: "nights/before.wav", Duration: 2400, Nominal: 18000, Window: 60},
			After:     compare.Side{Path: "nights/<b>after.wav", Duration: 2820, Nominal: 18000, Window: 60, ClockVerified: true},
			Alignment: compare.Elapsed, Headline: "It keeps better time after than before.",
			Metrics: []compare.Metric{
				{Name: "mean_rate", Label: "mean rate", Unit: "s/day", Before: 5, After: 2, Difference: -3, Low: -3.4, High: -2.6, PValue: 1e-9, Verdict: compare.Better, Aim: compare.NearerZero},
				{Name: "beat_error", Label: "beat error", Unit: "ms", Before: 0.4, After: 0.41, Difference: 0.01, Low: -0.1, High: 0.12, PValue: 0.8, Verdict: compare.NoDifference, Note: "nights/before.wav is short."},
				{Name: "amplitude", Label: "amplitude", Before: analysis.None(), After: analysis.None(), Difference: analysis.None(), Low: analysis.None(), High: analysis.None(), PValue: analysis.None(), Verdict: compare.NoDifference},
			},
			Notes: []string{"nights/before.wav and nights/<b>after.wav have different clocks."},
		},
		BeforeRuns: []chart.Run{sampleCharts(a, "before.wav")}, AfterRuns: []chart.Run{sampleCharts(b, "after.wav")}, Picture: Picture{PNG: a.Pictures[0].PNG},
	}
	p.Comparison.BeforeRuns, p.Comparison.AfterRuns = []compare.Side{p.Before}, []compare.Side{p.After}
	var differences []compare.Difference
	for i := range 40 {
		differences = append(differences, compare.Difference{Time: 60 * (float64(i) + 0.5), Rate: math.Sin(float64(i) / 5), SE: 0.3})
	}
	p.Figure = chart.Compare(p.BeforeRuns, p.AfterRuns, differences)
	return p
}

func writePair(t testing.TB, p Pair) string {
	t.Helper()
	var buf bytes.Buffer
	if err := Compare(&buf, p); err != nil {
		t.Fatal(err)
	}
	return buf.String()
}

func TestCompare(t *testing.T) {
	p := samplePair(t)
	text := writePair(t, p)
	for _, want := range []string{p.Headline, "mean rate (s/day)", "▲ better", "no difference shown", "before.wav is short", "&lt;b&gt;after.wav"} {
		if !strings.Contains(text, want) {
			t.Errorf("the page does not say %q", want)
		}
	}
	for _, never := range []string{"nights/", "<b>after", "ZgotmplZ"} {
		if strings.Contains(text, never) {
			t.Errorf("the page holds %q", never)
		}
	}
	if writePair(t, p) != text {
		t.Error("the same runs give another page")
	}
}

// sampleSets are two runs before and one after, of names alike.
func sampleSets(t testing.TB) Pair {
	p := samplePair(t)
	second := p.Before
	second.Path = "nights/tue/before.wav"
	p.Before.Path = "nights/mon/before.wav"
	p.Comparison.BeforeRuns = []compare.Side{p.Before, second}
	p.BeforeRuns = append(p.BeforeRuns, p.BeforeRuns[0])
	p.Metrics[1].Note, p.Notes = "nights/tue/before.wav is short.", nil
	p.Repeats = "Four runs would show it."
	for i := range p.Metrics {
		m := &p.Metrics[i]
		m.BeforeRuns, m.AfterRuns, m.RunSD = []analysis.Number{m.Before, m.Before}, []analysis.Number{m.After}, 0.1
	}
	var none []compare.Difference
	p.Figure = chart.Compare(p.BeforeRuns, p.AfterRuns, none)
	return p
}

func TestCompareSets(t *testing.T) {
	text := writePair(t, sampleSets(t))
	for _, want := range []string{"2\u00a0runs before", "run to run", "mon/before.wav", "tue/before.wav", "Four runs would show it.", "tue/before.wav is short", "What did each run show?"} {
		if !strings.Contains(text, want) {
			t.Errorf("the page does not say %q", want)
		}
	}
	for _, never := range []string{"nights/", "<b>after", "ZgotmplZ"} {
		if strings.Contains(text, never) {
			t.Errorf("the page holds %q", never)
		}
	}
	if strings.Contains(writePair(t, samplePair(t)), "run to run") {
		t.Error("one run of either state has run to run")
	}
}

func TestCompareInABrowser(t *testing.T) {
	p := samplePair(t)
	dir := t.TempDir()
	if err := os.WriteFile(filepath.Join(dir, "comparison.html"), []byte(writePair(t, p)), 0o666); err != nil {
		t.Fatal(err)
	}
	ctx := browser(t)
	run(t, ctx, chromedp.EmulateViewport(1200, 900), chromedp.Navigate("file://"+filepath.ToSlash(dir)+"/comparison.html"))
	if n := value[int](t, ctx, `document.querySelectorAll(".drawn").length`); n != 2 {
		t.Errorf("%d charts are drawn, want 2", n)
	}
	at := plotOf(t, ctx, "pair")
	run(t, ctx, drag([2]float64{at.X + at.W/4, at.Y + at.H/2}, [2]float64{at.X + at.W/2, at.Y + at.H/2}))
	if got := shownSpan(t, ctx, "pair"); math.Abs(got-705) > 20 {
		t.Errorf("dragged over a quarter of the runs, the chart shows %v s", got)
	}
	until(t, ctx, `/^At .*: A .* ± .* s\/day; A: before.wav .* s\/day; B .* ± .* s\/day; B: after.wav .* s\/day$/.test(document.querySelector("#figure-pair .readout").textContent)`)
	if text := value[string](t, ctx, `document.body.innerText`); strings.Contains(text, "NaN") {
		t.Error("the page shows NaN")
	}
	fitsNarrowAndWide(t, ctx)
}
