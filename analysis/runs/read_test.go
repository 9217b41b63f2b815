package runs

import (
	"bytes"
	"math"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"rundown/analysis"
	"rundown/analysis/beat"
	"rundown/analysis/rate"
)

// good is a small results folder: three seconds of a movement of 3600 beats an
// hour in windows of two seconds, with a hesitation.
var good = map[string]string{
	"summary.json": `{"schema": 1, "status": "ok",
		"recording": {"paths": ["bench.wav"], "sample_rate_hz": 8000, "duration_s": 3, "clock_ppm": 0, "clock_verified": false},
		"beat": {"nominal_per_hour": 3600, "measured_per_hour": 3600, "period_s": 2, "counted": 3, "heard": 2, "first_s": 0.5, "last_s": 2.5},
		"amplitude": {"kind": "lift-time"}, "stable_band": {"tolerance_s_per_day": 10, "start_s": null},
		"events": {"late": 1}, "recurrences": []}`,
	"windows.csv": "start_s,end_s,beats,heard,period_s,period_se_s,rate_s_per_day,rate_se_s_per_day,beat_error_ms,beat_error_se_ms,amplitude,amplitude_se,level_db\n" +
		"0.000000,2.000000,2,1,2.001,0.0001,-43.2,4.3,0.5,0.01,8.1,0.02,-30.1\n" +
		"2.000000,3.000000,1,1,,,,,,,,,\n",
	"events.csv": "kind,beat,start_s,end_s,shift_ms,note\nlate,1,1.5,1.5,20.5,\"a note, with a comma\"\n",
	"beats.csv": "beat,elapsed_s,side,heard,interval_s,residual_ms,level_db\n" +
		"0,0.5,tick,1,,0.25,-30\n1,1.5,tock,0,1.0,,\n2,2.5,tick,1,1.0,-0.5,-30\n",
}

// folder writes the good results, with some of the files replaced.
func folder(t testing.TB, dir string, replaced map[string]string) {
	t.Helper()
	for name, text := range good {
		if other, ok := replaced[name]; ok {
			text = other
		}
		if err := os.WriteFile(filepath.Join(dir, name), []byte(text), 0o666); err != nil {
			t.Fatal(err)
		}
	}
}

func TestRead(t *testing.T) {
	dir := t.TempDir()
	folder(t, dir, nil)
	r, err := Read(dir)
	if err != nil {
		t.Fatal(err)
	}
	if r.Summary.Beat.Nominal != 3600 || r.Kind != rate.LiftTime || r.Path != dir || r.Width() != 2 {
		t.Errorf("%+v", r)
	}
	want := beat.Event{Kind: beat.Late, Beat: 1, Start: 1.5, End: 1.5, Shift: 0.0205}
	if len(r.Events) != 1 || r.Events[0] != want {
		t.Errorf("events %+v", r.Events)
	}
	w := r.Windows[0]
	if w.Period.X != 2.001 || math.Abs(w.Rate.X+43.18) > 0.01 || w.BeatError.X != 0.5e-3 || math.Abs(w.Amplitude.X-8.1e-3) > 1e-15 || w.Heard != 1 {
		t.Errorf("first window %+v", w)
	}
	if w := r.Windows[1]; !math.IsNaN(w.Rate.X) || !math.IsNaN(w.Smoothed.X) || !math.IsNaN(w.Amplitude.X) {
		t.Errorf("a window without figures has %+v", w)
	}
	if n := r.Residuals; len(n) != 3 || n[0] != 0.25e-3 || !math.IsNaN(float64(n[1])) {
		t.Errorf("residuals %v", n)
	}
}

func TestReadMarksStops(t *testing.T) {
	dir := t.TempDir()
	folder(t, dir, map[string]string{"events.csv": "kind,beat,start_s,end_s,shift_ms,note\nstop,1,2.25,3,0,\n"})
	r, err := Read(dir)
	if err != nil {
		t.Fatal(err)
	}
	if r.Windows[0].Stopped || !r.Windows[1].Stopped {
		t.Errorf("stopped: %v %v", r.Windows[0].Stopped, r.Windows[1].Stopped)
	}
}

func TestReadTakesNoCommandsForTheTerminal(t *testing.T) {
	dir := t.TempDir()
	text := strings.Replace(good["summary.json"], `"recurrences": []`,
		`"recurrences": [{"kind": "events", "period_beats": 30, "size_ms": 4, "match": "third\u001b[2J wheel"}]`, 1)
	folder(t, dir, map[string]string{"summary.json": text})
	r, err := Read(dir)
	if err != nil {
		t.Fatal(err)
	}
	if got := r.Summary.Recurrences[0].Match; got != "third[2J wheel" {
		t.Errorf("%q", got)
	}
}

func TestReadWithoutBeat(t *testing.T) {
	dir := t.TempDir()
	folder(t, dir, map[string]string{"summary.json": `{"schema": 1, "status": "no-beat"}`, "windows.csv": ""})
	r, err := Read(dir)
	if err != nil || r.Summary.Status != analysis.NoBeat {
		t.Errorf("%+v, %v", r, err)
	}
}

func TestReadRefuses(t *testing.T) {
	change := func(name, from, to string) map[string]string {
		if !strings.Contains(good[name], from) {
			t.Fatalf("%s has no %q", name, from)
		}
		return map[string]string{name: strings.Replace(good[name], from, to, 1)}
	}
	cases := []struct {
		what     string
		replaced map[string]string
		message  string // part of the error beside the file's name
	}{
		{"a cut summary", change("summary.json", `"events"`, ""), "cut short"},
		{"a later schema", change("summary.json", `"schema": 1`, `"schema": 2`), "later version"},
		{"another JSON", map[string]string{"summary.json": `{}`}, "no summary"},
		{"text for a number", change("summary.json", `"counted": 3`, `"counted": "three"`), "counted"},
		{"no period", change("summary.json", `"period_s": 2`, `"period_s": null`), "beat's figures"},
		{"an endless recording", change("summary.json", `"duration_s": 3`, `"duration_s": 1e300`), "recording's figures"},
		{"an odd recurrence", change("summary.json", `"recurrences": []`, `"recurrences": [{"kind": "events", "period_beats": 0}]`), "recurrence"},
		{"a column missing", change("windows.csv", "period_se_s", "other"), "period_se_s"},
		{"windows cut at a line", change("windows.csv", "2.000000,3.000000,1,1,,,,,,,,,\n", ""), "ends before"},
		{"windows cut in a line", change("windows.csv", "3.000000,1,1,,,,,,,,,\n", "3.0"), "line 3"},
		{"a hole between windows", change("windows.csv", "2.000000,3", "2.500000,3"), "line 3: the windows do not follow"},
		{"more heard than there were", change("windows.csv", "2,1,2.001", "2,5,2.001"), "line 2"},
		{"a negative period", change("windows.csv", "2.001", "-2"), "line 2"},
		{"a negative error", change("windows.csv", "0.0001", "-1"), "line 2"},
		{"not a number", change("windows.csv", "2.001", "NaN"), "line 2"},
		{"an unknown event", change("events.csv", "late", "lost"), `"lost" is no kind`},
		{"an event missing", change("events.csv", "late,1,1.5,1.5,20.5,\"a note, with a comma\"\n", ""), "0 events"},
		{"an event turned round", change("events.csv", "1.5,1.5", "1.5,1"), "ends before it starts"},
		{"an open quote", change("events.csv", "comma\"", "comma"), "line 2"},
		{"a beat missing", change("beats.csv", "1,1.5,tock,0,1.0,,\n", ""), "beat 2, where 1 should be"},
		{"the last beat missing", change("beats.csv", "2,2.5,tick,1,1.0,-0.5,-30\n", ""), "2 beats"},
		{"an empty table", map[string]string{"beats.csv": ""}, "it is empty"},
		{"an endless line", map[string]string{"beats.csv": strings.Repeat("beat,", 1<<17)}, "far too long"},
		{"an endless field", map[string]string{"events.csv": good["events.csv"] + "late,1,1.5,1.5,20.5,\"" + strings.Repeat("a\n", 1<<17)}, "far too long"},
		{"far too many events", map[string]string{"events.csv": good["events.csv"] + strings.Repeat("late,1,1.5,1.5,20.5,\n", mostEvents)}, "too many"},
		{"bytes", map[string]string{"windows.csv": "\x00\xff\xfe\x80"}, "there is no column"},
	}
	for _, c := range cases {
		dir := t.TempDir()
		folder(t, dir, c.replaced)
		_, err := Read(dir)
		if err == nil {
			t.Errorf("%s was read", c.what)
			continue
		}
		for name := range c.replaced {
			text := err.Error()
			if !strings.HasPrefix(text, filepath.Join(dir, name)+": ") || !strings.Contains(text, c.message) ||
				!strings.HasSuffix(text, "analyse the recording again") && !strings.Contains(text, "later version") || strings.Contains(text, "\n") {
				t.Errorf("%s: %q", c.what, text)
			}
		}
	}
}

func TestReadMissingFiles(t *testing.T) {
	for name := range good {
		dir := t.TempDir()
		folder(t, dir, nil)
		if err := os.Remove(filepath.Join(dir, name)); err != nil {
			t.Fatal(err)
		}
		_, err := Read(dir)
		if err == nil || !strings.HasPrefix(err.Error(), filepath.Join(dir, name)+": ") || !strings.Contains(err.Error(), "whole results folder") {
			t.Errorf("without %s: %v", name, err)
		}
	}
}

// Whatever is in the files, reading them ends, with an error of one line or with
// a run that hangs together.
func FuzzRead(f *testing.F) {
	names := []string{"summary.json", "windows.csv", "events.csv", "beats.csv"}
	for i, name := range names {
		f.Add(uint8(i), []byte(good[name]))
		f.Add(uint8(i), []byte(good[name][:len(good[name])/2]))
		f.Add(uint8(i), bytes.ReplaceAll([]byte(good[name]), []byte("1"), []byte("-1e999")))
	}
	dir := f.TempDir()
	f.Fuzz(func(t *testing.T, which uint8, text []byte) {
		name := names[int(which)%len(names)]
		folder(t, dir, map[string]string{name: string(text)})
		r, err := Read(dir)
		switch {
		case err != nil && (strings.ContainsAny(err.Error(), "\n\r") || !strings.Contains(err.Error(), "; ")):
			t.Errorf("error %q", err)
		case err == nil && r.Summary.Status == analysis.OK && int64(len(r.Residuals)) != r.Summary.Beat.Counted:
			t.Error("the beats do not belong to the summary")
		}
	})
}
