package main

import (
	"bytes"
	"context"
	"encoding/json"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"rundown/dsp/wavio"
)

// synthesise runs the command in a fresh folder and returns that folder.
func synthesise(t *testing.T, ctx context.Context, args ...string) (dir string, code int, stdout, stderr string) {
	t.Helper()
	dir = t.TempDir()
	args = append(args, filepath.Join(dir, "night.wav"))
	var out, err bytes.Buffer
	code = run(ctx, append([]string{"synth"}, args...), nil, &out, &err)
	return dir, code, out.String(), err.String()
}

func names(t *testing.T, dir string) string {
	t.Helper()
	entries, err := os.ReadDir(dir)
	if err != nil {
		t.Fatal(err)
	}
	var all []string
	for _, e := range entries {
		all = append(all, e.Name())
	}
	return strings.Join(all, " ")
}

func TestSynthWritesSoundAndTruth(t *testing.T) {
	recipe := filepath.Join(t.TempDir(), "recipe.toml")
	if err := os.WriteFile(recipe, []byte("duration_s = 20\n[movement]\nbeats_per_hour = 7200\nstart_s = 0.3\n"), 0o666); err != nil {
		t.Fatal(err)
	}
	dir, code, stdout, stderr := synthesise(t, t.Context(), "--recipe", recipe, "--bph", "14400", "--sample-rate=8000", "--beat-error", "2ms")
	if code != exitOK || stderr != "" || !strings.Contains(stdout, "20s with 79 beats") {
		t.Fatalf("exit %d, %q, %q", code, stdout, stderr)
	}
	if got := names(t, dir); got != "night.truth.csv night.truth.json night.wav" {
		t.Errorf("the folder holds %s", got)
	}
	sound, err := wavio.Open(filepath.Join(dir, "night.wav"))
	if err != nil {
		t.Fatal(err)
	}
	defer sound.Close()
	if f := sound.Format(); f.SampleRate != 8000 || f.Frames != 160000 || f.BitsPerSample != 16 {
		t.Errorf("format is %+v", f)
	}
	text, err := os.ReadFile(filepath.Join(dir, "night.truth.json"))
	if err != nil {
		t.Fatal(err)
	}
	var truth struct {
		Summary struct {
			BeatError float64 `json:"beat_error_ms"`
			Nominal   float64 `json:"nominal_per_hour"`
		}
	}
	if err := json.Unmarshal(text, &truth); err != nil || truth.Summary.BeatError != 2 || truth.Summary.Nominal != 14400 {
		t.Errorf("truth is %+v, %v", truth, err)
	}
}

func TestSynthIsDetermined(t *testing.T) {
	var sounds [2][]byte
	for i := range sounds {
		dir, code, _, stderr := synthesise(t, t.Context(), "--random", "--seed", "9", "--duration", "5s")
		if code != exitOK {
			t.Fatal(stderr)
		}
		var err error
		if sounds[i], err = os.ReadFile(filepath.Join(dir, "night.wav")); err != nil {
			t.Fatal(err)
		}
	}
	if !bytes.Equal(sounds[0], sounds[1]) {
		t.Error("one command makes two recordings")
	}
}

func TestSynthErrors(t *testing.T) {
	ended, cancel := context.WithCancel(t.Context())
	cancel()
	tests := []struct {
		ctx  context.Context
		args []string
		code int
		want string
	}{
		{t.Context(), []string{"another.wav"}, exitUsage, "name of one recording"},
		{t.Context(), []string{"--demo", "--random"}, exitUsage, "--demo and --random"},
		{t.Context(), []string{"--room", "kitchen"}, exitUsage, "--room kitchen"},
		{t.Context(), []string{"--bph", "many"}, exitUsage, "bph"},
		{t.Context(), []string{"--bph", "-1"}, exitUsage, "movement.beats_per_hour is -1"},
		{t.Context(), []string{"--bits", "8"}, exitUsage, "8 bits"},
		{t.Context(), []string{"--recipe", "missing.toml"}, exitFailure, "missing.toml"},
		{ended, []string{"--duration", "5s"}, exitFailure, "interrupted"},
	}
	for _, test := range tests {
		dir, code, stdout, stderr := synthesise(t, test.ctx, test.args...)
		if code != test.code || stdout != "" || !strings.Contains(stderr, test.want) || strings.Count(stderr, "\n") != 1 {
			t.Errorf("%q: exit %d, %q, %q", test.args, code, stdout, stderr)
		}
		if got := names(t, dir); got != "" {
			t.Errorf("%q leaves %s", test.args, got)
		}
	}
}

func TestSynthDoesNotReplaceAFolder(t *testing.T) {
	dir := t.TempDir()
	if err := os.MkdirAll(filepath.Join(dir, "night.truth.csv"), 0o777); err != nil {
		t.Fatal(err)
	}
	var stdout, stderr bytes.Buffer
	code := run(t.Context(), []string{"synth", "--duration", "1s", filepath.Join(dir, "night.wav")}, nil, &stdout, &stderr)
	if code != exitFailure || !strings.Contains(stderr.String(), "night.truth.csv") {
		t.Errorf("exit %d, %q", code, stderr.String())
	}
	if got := names(t, dir); got != "night.truth.csv" {
		t.Errorf("the folder holds %s", got)
	}
}
