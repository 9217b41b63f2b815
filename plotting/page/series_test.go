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
	"rundown/analysis/notes"
	"rundown/analysis/rate"
	"rundown/analysis/runs"
	"rundown/analysis/series"
	"rundown/plotting/chart"
)

// sampleLineup is four runs in two positions, one of a hostile name and one
// without a beat.
func sampleLineup(t testing.TB) Lineup {
	t.Helper()
	var all []*runs.Run
	for i, name := range []string{"nights/mon/night.wav", "nights/tue/night.wav", "nights/<b>bold.wav", "nights/silent.wav"} {
		r := sampleRun(t, 12, 0, name)
		run := &runs.Run{Path: name, Windows: r.Windows, Kind: rate.Degrees, Summary: r.Summary}
		run.Summary.Notes = notes.Notes{Label: "as <i>found", Position: notes.Positions[i%2]}
		run.Summary.Rate.Mean += analysis.Number(i * i)
		if i == 3 {
			run.Summary.Status = analysis.NoBeat
		}
		all = append(all, run)
	}
	s, err := series.Line(all, series.ByLabel, nil)
	if err != nil {
		t.Fatal(err)
	}
	show := Lineup{Series: s, Picture: Picture{Figure: chart.Runs(s)}}
	var png bytes.Buffer
	if err := show.Figure.WritePNG(&png); err != nil {
		t.Fatal(err)
	}
	show.PNG = png.Bytes()
	return show
}

func writeLineup(t testing.TB, l Lineup) string {
	t.Helper()
	var buf bytes.Buffer
	if err := Series(&buf, l); err != nil {
		t.Fatal(err)
	}
	return buf.String()
}

func TestSeries(t *testing.T) {
	l := sampleLineup(t)
	text := writeLineup(t, l)
	for _, want := range []string{"4\u00a0runs", "mon/night.wav", "tue/night.wav", "&lt;b&gt;bold.wav", "as &lt;i&gt;found; dial up", "mean rate (s/day)",
		"How does it go in each position?", "Largest difference of the mean rate", "No beat was found in silent.wav."} {
		if !strings.Contains(text, want) {
			t.Errorf("the page does not say %q", want)
		}
	}
	for _, never := range []string{"nights/", "<b>bold", "<i>found", "ZgotmplZ"} {
		if strings.Contains(text, never) {
			t.Errorf("the page holds %q", never)
		}
	}
	if writeLineup(t, l) != text {
		t.Error("the same runs give another page")
	}
}

func TestSeriesInABrowser(t *testing.T) {
	dir := t.TempDir()
	if err := os.WriteFile(filepath.Join(dir, "series.html"), []byte(writeLineup(t, sampleLineup(t))), 0o666); err != nil {
		t.Fatal(err)
	}
	ctx := browser(t)
	run(t, ctx, chromedp.EmulateViewport(1200, 900), chromedp.Navigate("file://"+filepath.ToSlash(dir)+"/series.html"))
	if n := value[int](t, ctx, `document.querySelectorAll(".drawn").length`); n != 1 {
		t.Errorf("%d charts are drawn, want 1", n)
	}
	at := plotOf(t, ctx, "lineup")
	run(t, ctx, drag([2]float64{at.X + at.W/4, at.Y + at.H/2}, [2]float64{at.X + at.W/2, at.Y + at.H/2}))
	if got := shownSpan(t, ctx, "lineup"); math.Abs(got-1.05) > 0.05 {
		t.Errorf("dragged over a quarter of four runs, the chart shows %v", got)
	}
	fitsNarrowAndWide(t, ctx)
}
