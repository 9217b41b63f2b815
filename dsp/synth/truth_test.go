package synth

import (
	"bytes"
	"encoding/json"
	"math"
	"slices"
	"strings"
	"testing"
)

func TestTruthRate(t *testing.T) {
	// A rate that changes evenly by 24 s/day within an hour.
	tr := &Truth{Interval: 0.5, Duration: 3600}
	for steady, i := 0.0, int64(0); steady < 3600; i++ {
		rate := 24 * steady / 3600
		tr.Beats = append(tr.Beats, Beat{Index: i, Time: steady, Elapsed: steady, Steady: steady, Rate: rate, Audible: true})
		steady += 0.5 / (1 + rate/86400)
	}
	for i, got := range tr.Rates(600) {
		near(t, "rate", got, 2+4*float64(i), 0.01)
	}
	if !math.IsNaN(tr.Rate(4000, 5000)) {
		t.Error("there is a rate where there are no beats")
	}
	first, last := tr.StableBand(600, 8.1)
	if first != 0 || last != 3 {
		t.Errorf("stable band is %d to %d", first, last)
	}
	tr.Events = []Event{{Kind: "stop", Start: 700, End: 705}}
	if first, last := tr.StableBand(600, 8.1); first != 2 || last != 5 {
		t.Errorf("stable band with a stop is %d to %d", first, last)
	}
}

func TestDemo(t *testing.T) {
	rec := Demo()
	if err := rec.Check(); err != nil {
		t.Fatal(err)
	}
	truth := rec.Truth()
	first, last := truth.StableBand(60, 10)
	if first < 1 || last > 22 || last-first < 12 {
		t.Errorf("the plateau lasts from minute %d to %d", first, last)
	}
	rates := truth.Rates(60)
	if rates[0] < rates[10]+5 || rates[21] > rates[10]-5 {
		t.Errorf("rates %v show no run-down", rates)
	}
	late := kinds(truth, "late")
	tooth := slices.DeleteFunc(slices.Clone(late), func(e Event) bool { return e.Note == "" })
	if len(late)-len(tooth) != 2 || len(tooth) < 25 {
		t.Errorf("%d hesitations, %d by the tooth", len(late)-len(tooth), len(tooth))
	}
	if stop := kinds(truth, "stop"); len(stop) != 1 || stop[0].Start < 1300 || stop[0].End != rec.Duration {
		t.Errorf("stops: %v", stop)
	}
}

func TestWriteTruth(t *testing.T) {
	for name, rec := range map[string]Recording{"busy": busy(100), "quiet": Quiet("zeros", 1, 100, 8000)} {
		truth := rec.Truth()
		var text bytes.Buffer
		if err := rec.WriteTruth(&text, truth); err != nil {
			t.Fatal(err)
		}
		var got struct {
			Recipe  map[string]any
			Summary struct {
				Beats int
				Rate  *float64 `json:"mean_rate_s_per_day"`
			}
			Windows []any
			Events  []Event
		}
		if err := json.Unmarshal(text.Bytes(), &got); err != nil {
			t.Fatal(err)
		}
		if got.Summary.Beats != len(truth.Beats) || len(got.Windows) != 1 || !slices.Equal(got.Events, append([]Event{}, truth.Events...)) {
			t.Errorf("%s: the truth is written as %s", name, text.String())
		}
		if (got.Summary.Rate == nil) != (name == "quiet") {
			t.Errorf("%s: rate is %v", name, got.Summary.Rate)
		}
		if got.Recipe["duration_s"] != 100. {
			t.Errorf("%s: the recipe holds a duration of %v", name, got.Recipe["duration_s"])
		}
	}
}

func TestWriteBeats(t *testing.T) {
	rec := Recording{Seed: 1, Duration: 10, Movement: Movement{Start: 0.1, Jitter: -1, BeatError: 1e-3}, Sound: Sound{GainScatter: -1}}
	var text bytes.Buffer
	if err := WriteBeats(&text, rec.Truth().Beats); err != nil {
		t.Fatal(err)
	}
	lines := strings.Split(text.String(), "\n")
	want := []string{
		"beat,true_s,elapsed_s,frame,side,audible,covered,amplitude_deg,lift_ms,level_db,rate_s_per_day,steady_s",
		"0,0.099500000,0.099500000,4776.0000,tick,1,0,280.0000,11.839995,0.00,0.00000,0.100000000",
		"1,0.300500000,0.300500000,14424.0000,tock,1,0,280.0000,11.839995,0.00,0.00000,0.300000000",
	}
	if len(lines) != 52 || !slices.Equal(lines[:3], want) {
		t.Errorf("%d lines, first\n%s", len(lines), strings.Join(lines[:3], "\n"))
	}
}
