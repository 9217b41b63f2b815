package page

import (
	"bytes"
	"crypto/sha256"
	"encoding/base64"
	"errors"
	"fmt"
	"html"
	"math"
	"math/rand/v2"
	"regexp"
	"strconv"
	"strings"
	"testing"

	"rundown/analysis"
	"rundown/analysis/beat"
	"rundown/analysis/fault"
	"rundown/analysis/prose"
	"rundown/analysis/rate"
)

func write(t testing.TB, r Run) string {
	t.Helper()
	var buf bytes.Buffer
	if err := Write(&buf, r); err != nil {
		t.Fatal(err)
	}
	return buf.String()
}

func TestReportAnswersTheQuestions(t *testing.T) {
	r := sampleRun(t, 40, 3, "clock.wav")
	text := write(t, r)
	for _, want := range []string{
		prose.Finding(&r.Summary), prose.Running(&r.Summary), prose.Held(&r.Summary), prose.InBeat(&r.Summary), prose.Advice(&r.Summary),
		"Where is the stable band", "escape wheel, one turn", "How far can these figures be trusted", "in one turn of the escape wheel",
	} {
		if !strings.Contains(text, strings.NewReplacer("'", "&#39;", "+", "&#43;").Replace(want)) {
			t.Errorf("the report does not say %q", want)
		}
	}
	if n := strings.Count(text, "data:audio/wav;base64,"); n != 3 {
		t.Errorf("%d sounds in the page, want 3", n)
	}
	if strings.Contains(text, "ZgotmplZ") {
		t.Error("the template refused a value")
	}
	if strings.Contains(regexp.MustCompile(`(?s)base64,[^"]*|<script.*`).ReplaceAllString(text, ""), "NaN") {
		t.Error("the page shows NaN")
	}
}

func TestSameRunSameBytes(t *testing.T) {
	r := sampleRun(t, 40, 3, "clock.wav")
	first := write(t, r)
	for range 3 {
		if write(t, r) != first {
			t.Fatal("the same run gives another page")
		}
	}
}

// A night with every clip of the greatest length, and events by the thousand.
func TestNightFitsIntoTheLimit(t *testing.T) {
	rng := rand.New(rand.NewPCG(1, 2))
	r := sampleRun(t, 8*60, 50, "night.wav")
	r.Recording.SampleRate = 48000
	for i := range r.Clips {
		r.Clips[i].Samples = make([]int16, 1<<17)
		for k := range r.Clips[i].Samples {
			r.Clips[i].Samples[k] = int16(rng.Uint32())
		}
	}
	for i := range 8 {
		r.Pictures = append(r.Pictures, Picture{"turn-" + strconv.Itoa(i) + "-arbor", r.Pictures[0].Figure, make([]byte, 40_000)})
	}
	text := write(t, r)
	if len(text) > sizeLimit {
		t.Errorf("the report weighs %d bytes", len(text))
	}
	if strings.Count(text, "data:audio/wav") == 0 || strings.Count(text, `src="clips/`) == 0 {
		t.Error("there should be sounds in the page, and others beside it")
	}
	if strings.Contains(text, "more are in") != (len(r.Events) > mostRows) {
		t.Error("the table does not say what it leaves out")
	}
}

// Names of files may hold anything, and folders are nobody's business.
func TestHostileNames(t *testing.T) {
	const name = `"><script>alert(1)</script>{{.}}'&.wav`
	r := sampleRun(t, 10, 1, "home/someone/"+strings.ReplaceAll(name, "/", "")+".wav")
	r.Recording.Problems = []string{r.Recording.Paths[0] + " ends in the middle of a sample."}
	r.Recurrences[0].Match = "</script><b>"
	r.Events[0].Note = "</script><img src=x onerror=alert(1)>"
	text := write(t, r)
	for _, never := range []string{"home/someone", "<script>alert", "onerror=alert(1)>", "<b>\"", "</script><b>"} {
		if strings.Contains(text, never) {
			t.Errorf("the page holds %q", never)
		}
	}
	if n := strings.Count(text, "<script"); n != 3 {
		t.Errorf("%d scripts, want 3", n)
	}
}

func TestNothingComesFromElsewhere(t *testing.T) {
	text := write(t, sampleRun(t, 10, 1, "clock.wav"))
	text = strings.Replace(text, asset("uplot.js"), "", 1) // names its home in a comment
	if at := regexp.MustCompile(`(?i)https?:|src="//|@import|url\(`).FindString(text); at != "" {
		t.Errorf("the page refers to %q", at)
	}
	if !strings.Contains(text, "Permission is hereby granted") {
		t.Error("the library's licence is missing")
	}
}

func TestRecordingWithoutABeat(t *testing.T) {
	s := analysis.Summary{Status: analysis.NoBeat, HeardInstead: "Only a hum was heard.", Events: map[beat.Kind]int{},
		Recording: analysis.Recording{Paths: []string{"-"}, SampleRate: 8000, Channels: 1, BitsPerSample: 16, Duration: 20}}
	text := write(t, Run{Result: &analysis.Result{Summary: s}})
	for _, want := range []string{"standard input", "there is no rate. Only a hum was heard.", prose.Advice(&s)} {
		if !strings.Contains(text, want) {
			t.Errorf("the page does not say %q", want)
		}
	}
	if strings.Contains(text, "<script") || strings.Contains(text, "uPlot=") {
		t.Error("a page without charts needs no script")
	}
}

// A run of which hardly anything is known still makes a page.
func TestRunWithHardlyAnyFigures(t *testing.T) {
	none := rate.Value{X: math.NaN(), SE: math.NaN()}
	r := sampleRun(t, 10, 0, "clock.wav")
	for i := range r.Windows {
		w := &r.Windows[i]
		w.Amplitude, w.BeatError, w.Rate, w.Smoothed, w.Heard = none, none, none, none, 0
	}
	r.Band, r.StableBand = nil, analysis.StableBand{Tolerance: 10}
	r.Stabilities, r.Events, r.Recurrences = nil, nil, nil
	r.Pictures = samplePictures(t, r, "clock.wav", fault.Map{Columns: 30})
	r.BeatError = analysis.BeatError{Mean: analysis.None(), SE: analysis.None()}
	if text := write(t, r); strings.Contains(text, "data-chart=\"map\"") {
		t.Error("an empty map is drawn closely")
	}
}

func TestErrorsOfTheWriterAreReturned(t *testing.T) {
	if err := Write(broken{}, sampleRun(t, 4, 0, "clock.wav")); !errors.Is(err, errBroken) {
		t.Errorf("got %v", err)
	}
}

var errBroken = errors.New("broken")

type broken struct{}

func (broken) Write([]byte) (int, error) { return 0, errBroken }

// Contrast as WCAG 2.1 defines it: at least 4.5 for text.
func TestContrast(t *testing.T) {
	colour := func(name string) [3]float64 {
		m := regexp.MustCompile(`--` + name + `: #([0-9a-f]{3,6});`).FindStringSubmatch(asset("report.css"))
		if m == nil {
			t.Fatalf("no colour %s", name)
		}
		text := m[1]
		if len(text) == 3 {
			text = fmt.Sprintf("%c%c%c%c%c%c", text[0], text[0], text[1], text[1], text[2], text[2])
		}
		var rgb [3]float64
		for i := range rgb {
			v, err := strconv.ParseUint(text[2*i:2*i+2], 16, 8)
			if err != nil {
				t.Fatal(err)
			}
			rgb[i] = float64(v) / 255
		}
		return rgb
	}
	luminance := func(name string) float64 {
		sum := 0.0
		for i, c := range colour(name) {
			if c <= 0.03928 {
				c /= 12.92
			} else {
				c = math.Pow((c+0.055)/1.055, 2.4)
			}
			sum += []float64{0.2126, 0.7152, 0.0722}[i] * c
		}
		return sum
	}
	for _, text := range []string{"ink", "muted", "dark", "rust"} {
		for _, behind := range []string{"paper", "wash"} {
			if c := (luminance(behind) + 0.05) / (luminance(text) + 0.05); c < 4.5 {
				t.Errorf("%s on %s has contrast %.2f", text, behind, c)
			}
		}
	}
}

func TestChance(t *testing.T) {
	for p, want := range map[float64]string{0.04: "0.04", 0.001: "0.001", 3.2e-5: "3 × 10⁻⁵", 1e-9: "1 × 10⁻⁹", 2e-300: "< 10⁻⁹", 0: "< 10⁻⁹"} {
		if got := strings.ReplaceAll(chance(p), "\u00a0", " "); got != want {
			t.Errorf("chance(%v) = %q, want %q", p, got, want)
		}
	}
}

func BenchmarkWrite(b *testing.B) {
	r := sampleRun(b, 8*60, 20, "night.wav")
	for b.Loop() {
		var buf bytes.Buffer
		if err := Write(&buf, r); err != nil {
			b.Fatal(err)
		}
		b.ReportMetric(float64(buf.Len()), "bytes/page")
	}
}

func TestAround(t *testing.T) {
	clip := func(event, start float64, seconds int) analysis.Clip {
		return analysis.Clip{Event: beat.Event{Start: event}, Start: start, Samples: make([]int16, 1000*seconds)}
	}
	cases := []struct {
		clip        analysis.Clip
		start, last float64
	}{
		{clip(102, 100, 4), 101.2, 103.2},
		{clip(100.5, 100, 4), 100, 101.7},
		{clip(103, 100, 4), 102.2, 104},
		{clip(500, 100, 4), 100, 104}, // an event outside its clip: all of it
	}
	for _, c := range cases {
		got := around(c.clip, 1000)
		if last := got.Start + float64(len(got.Samples))/1000; math.Abs(got.Start-c.start) > 2e-3 || math.Abs(last-c.last) > 2e-3 {
			t.Errorf("around %v: from %v to %v, want %v to %v", c.clip.Event.Start, got.Start, last, c.start, c.last)
		}
	}
}

// The page's own scripts run, and no other that may have come into it.
func TestPolicyNamesTheScripts(t *testing.T) {
	text := write(t, sampleRun(t, 40, 3, "clock.wav"))
	_, policy, _ := strings.Cut(text, "script-src ")
	policy, _, _ = strings.Cut(html.UnescapeString(policy), ";")
	var want []string
	for _, script := range regexp.MustCompile(`(?s)<script>(.*?)</script>`).FindAllStringSubmatch(text, -1) {
		want = append(want, fmt.Sprintf("'sha256-%s'", base64.StdEncoding.EncodeToString(sum(script[1]))))
	}
	if len(want) != 2 || policy != strings.Join(want, " ") {
		t.Errorf("the policy allows %s, and the scripts are %v", policy, want)
	}
}

func sum(text string) []byte {
	digest := sha256.Sum256([]byte(text))
	return digest[:]
}
