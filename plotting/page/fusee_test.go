package page

import (
	"bytes"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/chromedp/chromedp"

	"rundown/analysis/fusee"
	"rundown/plotting/chart"
	"rundown/plotting/drawing"
)

// sampleFusee is a spring and its fusee; without options, the spring alone.
func sampleFusee(t testing.TB, o *fusee.Options, units fusee.Units) Fusee {
	t.Helper()
	table := &fusee.Table{Turns: []float64{0, 1, 2, 3, 4, 5, 6, 7}, Down: []float64{650, 550, 510, 475, 440, 405, 355, 250}, Up: []float64{740, 620, 570, 530, 495, 450, 400, 280}}
	r, err := fusee.New(fusee.Input{Table: table, TablePath: "<b>torque.csv", Uneven: 20, Options: o, Units: units})
	if err != nil {
		t.Fatal(err)
	}
	f := Fusee{Result: r, Name: "<b>torque.csv"}
	h := chart.Heading{Name: "torque.csv"}
	figures := map[string]*chart.Figure{"torque": chart.Torque(h, r), "stopwork": chart.StopWork(h, r)}
	if o != nil {
		figures["evenness"] = chart.Evenness(h, r)
		var svg bytes.Buffer
		if err := drawing.Fusee(r.Fusee, units).WriteSVG(&svg); err != nil {
			t.Fatal(err)
		}
		f.Drawing = svg.Bytes()
	}
	for _, role := range []string{"torque", "stopwork", "evenness"} {
		if figures[role] != nil {
			f.Pictures = append(f.Pictures, Picture{Role: role, Figure: figures[role], PNG: []byte("picture")})
		}
	}
	return f
}

func writeFusee(t testing.TB, f Fusee) string {
	t.Helper()
	var b bytes.Buffer
	if err := WriteFusee(&b, f); err != nil {
		t.Fatal(err)
	}
	return b.String()
}

func sampleOptions() *fusee.Options {
	return &fusee.Options{BarrelDiameter: 32, Chain: 1.1, ChainWidth: 1.1, Turns: 5.5, SetUp: 1, Pitch: 1.4, Step: 0.5, Rounding: 0.01}
}

func TestFuseePage(t *testing.T) {
	text := writeFusee(t, sampleFusee(t, sampleOptions(), fusee.Units{}))
	caution, finding := strings.Index(text, "A mainspring under power"), strings.Index(text, "A fusee of 5.50")
	if caution < 0 || finding < caution {
		t.Error("the caution does not come first")
	}
	for _, want := range []string{"&lt;b&gt;torque.csv", "(recommended)", "data:image/svg&#43;xml;base64,", "half of up minus down", "radius of the middle line", "<td>5.5</td><td>7.700</td>"} {
		if !strings.Contains(text, want) && !strings.Contains(text, strings.ReplaceAll(want, "&#43;", "+")) {
			t.Errorf("the page does not say %q", want)
		}
	}
	for _, never := range []string{"<b>torque", "ZgotmplZ", "NaN"} {
		if strings.Contains(strings.Split(text, "<script")[0], never) {
			t.Errorf("the page holds %q", never)
		}
	}
	alone := writeFusee(t, sampleFusee(t, nil, fusee.Units{}))
	if strings.Contains(alone, "what is to be cut") || !strings.Contains(alone, "which turns should stop-work keep") {
		t.Error("without a fusee, the page speaks of one")
	}
	if inches := writeFusee(t, sampleFusee(t, sampleOptions(), fusee.Units{Inches: true})); !strings.Contains(inches, "from the large end, in inches:") || !strings.Contains(inches, "<td>0.30315</td>") {
		t.Error("the table is not in inches")
	}
}

func TestFuseePageInABrowser(t *testing.T) {
	dir := t.TempDir()
	if err := os.WriteFile(filepath.Join(dir, "fusee.html"), []byte(writeFusee(t, sampleFusee(t, sampleOptions(), fusee.Units{}))), 0o666); err != nil {
		t.Fatal(err)
	}
	ctx := browser(t)
	run(t, ctx, chromedp.EmulateViewport(1200, 900), chromedp.Navigate("file://"+filepath.ToSlash(dir)+"/fusee.html"))
	if n := value[int](t, ctx, `document.querySelectorAll(".drawn").length`); n != 3 {
		t.Errorf("%d charts are drawn, want 3", n)
	}
	if n := value[int](t, ctx, `document.querySelector('img[src^="data:image/svg"]').naturalWidth`); n < 200 {
		t.Errorf("the drawing is %d wide", n)
	}
	fitsNarrowAndWide(t, ctx)
}
