package page

import (
	"context"
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"slices"
	"strings"
	"sync"
	"testing"
	"time"

	"github.com/chromedp/cdproto/dom"
	"github.com/chromedp/cdproto/emulation"
	"github.com/chromedp/cdproto/input"
	"github.com/chromedp/cdproto/log"
	"github.com/chromedp/cdproto/network"
	"github.com/chromedp/cdproto/runtime"
	"github.com/chromedp/chromedp"
	"github.com/chromedp/chromedp/kb"

	"rundown/analysis/export"
	"rundown/plotting/chart"
)

// chromium is the browser that the tests share, nil before the first of them.
var chromium struct {
	sync.Once
	ctx  context.Context
	stop []context.CancelFunc
	err  error
}

func TestMain(m *testing.M) {
	code := m.Run()
	for _, stop := range slices.Backward(chromium.stop) {
		stop()
	}
	os.Exit(code)
}

// start starts the browser.
func start(path string) {
	options := []chromedp.ExecAllocatorOption{chromedp.ExecPath(path), chromedp.NoFirstRun, chromedp.NoDefaultBrowserCheck}
	for _, flag := range []string{"headless", "no-sandbox", "disable-gpu", "disable-quic", "disable-background-networking", "disable-component-update", "disable-sync", "mute-audio", "disable-dev-shm-usage"} {
		options = append(options, chromedp.Flag(flag, true))
	}
	ctx, stop := chromedp.NewExecAllocator(context.Background(), options...)
	chromium.stop = append(chromium.stop, stop)
	chromium.ctx, stop = chromedp.NewContext(ctx)
	chromium.stop = append(chromium.stop, stop)
	chromium.err = chromedp.Run(chromium.ctx)
}

// browser opens a tab, and returns what to run actions in. Whatever goes wrong
// in its pages fails the test.
func browser(t *testing.T) context.Context {
	t.Helper()
	path := ""
	for _, name := range []string{"chromium", "chromium-browser", "google-chrome"} {
		if found, err := exec.LookPath(name); err == nil {
			path = found
			break
		}
	}
	if path == "" {
		t.Skip("there is no Chromium here: how the page behaves in a browser is not tested")
	}
	if testing.Short() {
		t.Skip("a browser takes seconds: skipped by -short")
	}
	chromium.Do(func() { start(path) })
	if chromium.err != nil {
		t.Fatal(chromium.err)
	}
	ctx, closeTab := chromedp.NewContext(chromium.ctx)
	t.Cleanup(closeTab)
	ctx, cancel := context.WithTimeout(ctx, time.Minute)
	t.Cleanup(cancel)
	watch(t, ctx)
	return ctx
}

// watch collects errors of scripts and requests to anywhere but the page's own
// folder.
func watch(t *testing.T, ctx context.Context) {
	var mutex sync.Mutex
	var faults []string
	note := func(format string, args ...any) {
		mutex.Lock()
		defer mutex.Unlock()
		faults = append(faults, fmt.Sprintf(format, args...))
	}
	chromedp.ListenTarget(ctx, func(ev any) {
		switch ev := ev.(type) {
		case *runtime.EventExceptionThrown:
			note("script: %s", ev.ExceptionDetails.Error())
		case *runtime.EventConsoleAPICalled:
			note("console: %s", ev.Type)
		case *log.EventEntryAdded:
			if !strings.Contains(ev.Entry.Text, "ERR_FILE_NOT_FOUND") {
				note("log: %s", ev.Entry.Text)
			}
		case *network.EventRequestWillBeSent:
			if url := ev.Request.URL; !strings.HasPrefix(url, "file:") && !strings.HasPrefix(url, "data:") {
				note("request: %s", url)
			}
		}
	})
	t.Cleanup(func() {
		mutex.Lock()
		defer mutex.Unlock()
		for _, fault := range faults {
			t.Error(fault)
		}
	})
}

// save writes the page of a run with its first clip beside it, and returns the
// page's address.
func save(t *testing.T, r Run) string {
	t.Helper()
	dir := t.TempDir()
	if err := os.WriteFile(filepath.Join(dir, "report.html"), []byte(write(t, r)), 0o666); err != nil {
		t.Fatal(err)
	}
	for i, c := range r.Clips[:min(1, len(r.Clips))] {
		name := filepath.Join(dir, filepath.FromSlash(r.Summary.Clips[i].File))
		if err := os.MkdirAll(filepath.Dir(name), 0o777); err != nil {
			t.Fatal(err)
		}
		file, err := os.Create(name)
		if err != nil {
			t.Fatal(err)
		}
		if err := export.Clip(file, c, r.Recording.SampleRate); err != nil {
			t.Fatal(err)
		}
		if err := file.Close(); err != nil {
			t.Fatal(err)
		}
	}
	return "file://" + filepath.ToSlash(dir) + "/report.html"
}

func run(t *testing.T, ctx context.Context, actions ...chromedp.Action) {
	t.Helper()
	if err := chromedp.Run(ctx, actions...); err != nil {
		t.Fatal(err)
	}
}

// value evaluates an expression in the page.
func value[T any](t *testing.T, ctx context.Context, expression string) (v T) {
	t.Helper()
	if err := chromedp.Run(ctx, chromedp.Evaluate(expression, &v)); err != nil {
		t.Fatalf("%s: %v", expression, err)
	}
	return v
}

// fitsNarrowAndWide makes the window narrow and wide and expects the page to fit, once its
// charts have heard of it.
func fitsNarrowAndWide(t *testing.T, ctx context.Context) {
	t.Helper()
	for _, width := range []int64{360, 2560} {
		run(t, ctx, chromedp.EmulateViewport(width, 900))
		until(t, ctx, fmt.Sprintf("innerWidth == %d && document.documentElement.scrollWidth <= %d", width, width))
	}
}

// until waits for a condition of the page.
func until(t *testing.T, ctx context.Context, condition string) {
	t.Helper()
	for range 60 {
		if value[bool](t, ctx, condition) {
			return
		}
		time.Sleep(50 * time.Millisecond)
	}
	t.Fatalf("never true: %s", condition)
}

// place is the part of a chart in which it is drawn, in the window.
type place struct{ X, Y, W, H float64 }

func plotOf(t *testing.T, ctx context.Context, role string) place {
	t.Helper()
	return value[place](t, ctx, `(() => {
		const over = document.querySelector("#figure-`+role+` .u-over");
		over.scrollIntoView({block: "center"});
		const r = over.getBoundingClientRect();
		return {X: r.left, Y: r.top, W: r.width, H: r.height};
	})()`)
}

func drag(from, to [2]float64) chromedp.Action {
	return chromedp.Tasks{
		chromedp.MouseEvent(input.MouseMoved, from[0], from[1]),
		chromedp.MouseEvent(input.MousePressed, from[0], from[1], chromedp.ButtonLeft, chromedp.ClickCount(1)),
		chromedp.MouseEvent(input.MouseMoved, (from[0]+to[0])/2, (from[1]+to[1])/2, chromedp.ButtonLeft),
		chromedp.MouseEvent(input.MouseMoved, to[0], to[1], chromedp.ButtonLeft),
		chromedp.MouseEvent(input.MouseReleased, to[0], to[1], chromedp.ButtonLeft, chromedp.ClickCount(1)),
	}
}

// shownSpan is the part of the run that a chart shows, in seconds.
func shownSpan(t *testing.T, ctx context.Context, role string) float64 {
	t.Helper()
	return value[float64](t, ctx, `(({from, to}) => to - from)(document.querySelector("#figure-`+role+`").dataset)`)
}

func TestChartsInABrowser(t *testing.T) {
	r := sampleRun(t, 40, 3, "clock <1> & 'two'.wav")
	ctx := browser(t)
	run(t, ctx, chromedp.EmulateViewport(1200, 900), chromedp.Navigate(save(t, r)))

	const charts = 7 // rate, amplitude, period, beat error, hesitations, map, stability
	if n := value[int](t, ctx, `document.querySelectorAll(".drawn").length`); n != charts {
		t.Errorf("%d charts are drawn, want %d", n, charts)
	}
	if blank := value[[]string](t, ctx, `[...document.querySelectorAll(".drawn")].filter(f => {
		const c = f.querySelector("canvas"), d = c.getContext("2d").getImageData(0, 0, c.width, c.height).data;
		const inks = new Set();
		for (let i = 0; i < d.length; i += 4) inks.add(d[i] << 16 | d[i+1] << 8 | d[i+2]);
		return inks.size < 5;
	}).map(f => f.id)`); len(blank) > 0 {
		t.Errorf("blank charts: %v", blank)
	}
	if title := value[string](t, ctx, `document.querySelector("h1").textContent`); title != "clock <1> & 'two'.wav" {
		t.Errorf("the page is headed %q", title)
	}

	whole := shownSpan(t, ctx, "rate")
	if whole != 2400 {
		t.Errorf("the rate chart shows %v s, want 2400", whole)
	}
	at := plotOf(t, ctx, "rate")
	run(t, ctx, chromedp.MouseEvent(input.MouseMoved, at.X+at.W/2, at.Y+at.H/2))
	until(t, ctx, `/^At 1?9 min|^At 20 min/.test(document.querySelector("#figure-rate .readout").textContent)`)
	run(t, ctx, drag([2]float64{at.X + at.W/4, at.Y + at.H/2}, [2]float64{at.X + at.W/2, at.Y + at.H/2 + 4}))
	if got := shownSpan(t, ctx, "rate"); got < 580 || got > 620 {
		t.Errorf("dragged over a quarter of the run, the chart shows %v s", got)
	}
	run(t, ctx, chromedp.MouseClickXY(at.X+at.W/2, at.Y+at.H/2, chromedp.ClickCount(1)), chromedp.MouseClickXY(at.X+at.W/2, at.Y+at.H/2, chromedp.ClickCount(2)))
	if got := shownSpan(t, ctx, "rate"); got != whole {
		t.Errorf("after a double click the chart shows %v s", got)
	}
	run(t, ctx, chromedp.Focus("#figure-rate .plot"), chromedp.KeyEvent("+"), chromedp.KeyEvent(kb.ArrowRight))
	if got := shownSpan(t, ctx, "rate"); got != whole/2 {
		t.Errorf("after + the chart shows %v s", got)
	}
	until(t, ctx, `/^At 10 min 30 s: /.test(document.querySelector("#figure-rate .readout").textContent)`)
	run(t, ctx, chromedp.KeyEvent("0"), chromedp.Click("#figure-rate .tools button:nth-child(1)"), chromedp.Click("#figure-rate .tools button:nth-child(4)"))
	if from := value[string](t, ctx, `document.querySelector("#figure-rate").dataset.from`); from != "1200" {
		t.Errorf("zoomed in and moved on, the chart begins at %s s", from)
	}
}

func TestSoundsInABrowser(t *testing.T) {
	r := sampleRun(t, 40, 3, "clock.wav")
	ctx := browser(t)
	run(t, ctx, chromedp.EmulateViewport(1200, 900), chromedp.Navigate(save(t, r)))
	if n := value[int](t, ctx, `document.querySelectorAll("audio").length`); n != 3 {
		t.Fatalf("%d sounds in the table, want 3", n)
	}
	run(t, ctx, chromedp.Evaluate(`document.querySelector("audio").load(); document.querySelector("audio").preload = "auto"`, nil))
	until(t, ctx, `document.querySelector("audio").duration === 1`)

	// A click on the first ring of the map plays the event at it.
	at := plotOf(t, ctx, "map")
	ev := r.Events[0]
	x, y := at.X+at.W*(float64(ev.Beat%30)+0.5)/30, at.Y+at.H*(float64(ev.Beat/30)+0.5)/400
	run(t, ctx, chromedp.Evaluate(`window.played = []; for (const a of document.querySelectorAll("audio")) a.addEventListener("playing", () => played.push(a.closest("tr").id))`, nil),
		chromedp.MouseEvent(input.MouseMoved, x, y), chromedp.MouseClickXY(x, y))
	until(t, ctx, `played[0] === "event-1"`)
}

// Beside the page or missing: a sound that is not in the page itself.
func TestSoundsBesideThePage(t *testing.T) {
	r := sampleRun(t, 40, 2, "clock.wav")
	r.Pictures = append(r.Pictures, Picture{"turn-2-third-arbor", r.Pictures[0].Figure, make([]byte, sizeLimit)}) // leaves no room for sounds
	ctx := browser(t)
	run(t, ctx, chromedp.Navigate(save(t, r)), chromedp.Evaluate(`for (const a of document.querySelectorAll("audio")) { a.preload = "auto"; a.load(); }`, nil))
	until(t, ctx, `document.querySelector("#event-1 audio").duration === 1`)
	until(t, ctx, `document.querySelector("#event-2").textContent.includes("not found beside this page")`)
}

func TestPageFitsAnyWindow(t *testing.T) {
	ctx := browser(t)
	page := save(t, sampleRun(t, 40, 3, strings.Repeat("a long name ", 20)+strings.Repeat("x", 200)+".wav"))
	for _, width := range []int64{360, 1200, 2560} {
		run(t, ctx, emulation.SetDeviceMetricsOverride(width, 900, 1, false), chromedp.Navigate(page))
		if got := value[int64](t, ctx, `document.documentElement.scrollWidth`); got > width {
			t.Errorf("the page is %d wide in a window of %d", got, width)
		}
		if small := value[float64](t, ctx, `parseFloat(getComputedStyle(document.querySelector("#figure-rate .how")).fontSize)`); small < 12 {
			t.Errorf("text of %v pixels in a window of %d", small, width)
		}
	}
	// In a window that changes, the charts follow.
	run(t, ctx, emulation.SetDeviceMetricsOverride(500, 900, 1, false))
	until(t, ctx, `document.querySelector("#figure-rate .uplot").offsetWidth <= 500`)
}

func TestPageWithoutABeatInABrowser(t *testing.T) {
	r := sampleRun(t, 40, 0, "clock.wav")
	r.Status = "no-beat"
	ctx := browser(t)
	run(t, ctx, chromedp.Navigate(save(t, r)))
	if text := value[string](t, ctx, `document.querySelector(".finding").textContent`); !strings.Contains(text, "no rate") {
		t.Errorf("the finding is %q", text)
	}
}

// On paper the pictures are shown.
func TestPrint(t *testing.T) {
	ctx := browser(t)
	run(t, ctx, chromedp.Navigate(save(t, sampleRun(t, 40, 3, "clock.wav"))), emulation.SetEmulatedMedia().WithMedia("print"))
	if shown := value[bool](t, ctx, `document.querySelector("#figure-rate img").offsetHeight > 100 && document.querySelector("#figure-rate .plot").offsetHeight === 0`); !shown {
		t.Error("the picture of the rate is not printed")
	}
	run(t, ctx, emulation.SetEmulatedMedia().WithMedia("screen"))
	if shown := value[bool](t, ctx, `document.querySelector("#figure-rate img").offsetHeight === 0 && document.querySelector("#figure-rate .plot").offsetHeight > 100`); !shown {
		t.Error("the picture is shown beside the chart")
	}
}

// Readers without scripts see the pictures.
func TestWithoutScripts(t *testing.T) {
	ctx := browser(t)
	var height int64
	run(t, ctx, emulation.SetScriptExecutionDisabled(true), chromedp.Navigate(save(t, sampleRun(t, 40, 3, "clock.wav"))),
		chromedp.ActionFunc(func(ctx context.Context) (err error) {
			// The driver may read the document anew at any time, and then the
			// numbers of its nodes change.
			for range 10 {
				if height, err = heightOf(ctx, "#figure-rate img"); err == nil {
					return nil
				}
			}
			return err
		}))
	if height < 100 {
		t.Errorf("the picture of the rate is %d pixels high", height)
	}
}

// heightOf is the height of an element in pixels, without the help of scripts.
func heightOf(ctx context.Context, selector string) (int64, error) {
	root, err := dom.GetDocument().Do(ctx)
	if err != nil {
		return 0, err
	}
	node, err := dom.QuerySelector(root.NodeID, selector).Do(ctx)
	if err != nil {
		return 0, err
	}
	box, err := dom.GetBoxModel().WithNodeID(node).Do(ctx)
	if err != nil {
		return 0, err
	}
	return box.Height, nil
}

// With events by the thousand the lanes and the sizes of hesitations are drawn,
// can be zoomed, and tell what lies under the pointer.
func TestThousandsOfHesitationsInABrowser(t *testing.T) {
	r := sampleRun(t, 8*60, 3, "night.wav")
	for len(r.Events) < 3000 {
		ev := r.Events[len(r.Events)%400]
		ev.Start += 7
		r.Events = append(r.Events, ev)
	}
	slices.SortStableFunc(r.Events, inTime)
	show := sampleCharts(r, "night.wav")
	for i, p := range r.Pictures {
		switch p.Role {
		case "rate":
			r.Pictures[i].Figure = chart.Rate(show)
		case "hesitations":
			r.Pictures[i].Figure = chart.Hesitations(show, nil, chart.Turn{Arbor: "escape wheel", Beats: 30, Teeth: 15})
		}
	}
	ctx := browser(t)
	run(t, ctx, chromedp.EmulateViewport(1200, 900), chromedp.Navigate(save(t, r)))
	if n := value[int](t, ctx, `document.querySelectorAll("#figure-hesitations .uplot, #figure-rate .uplot").length`); n != 4 {
		t.Errorf("%d panels, want rate and lanes, sizes by time and by place", n)
	}
	at := plotOf(t, ctx, "hesitations")
	run(t, ctx, chromedp.MouseEvent(input.MouseMoved, at.X+at.W/2, at.Y+at.H/2))
	until(t, ctx, `/^At (3 h 5|4 h 0).*: late .* ms$/.test(document.querySelector("#figure-hesitations .readout").textContent)`)
	run(t, ctx, drag([2]float64{at.X + at.W/4, at.Y + at.H/2}, [2]float64{at.X + at.W/2, at.Y + at.H/2}))
	if got := shownSpan(t, ctx, "hesitations"); got < 7000 || got > 7400 {
		t.Errorf("dragged over a quarter of eight hours, the chart shows %v s", got)
	}
}
