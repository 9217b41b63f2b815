package main

import (
	"bytes"
	"os"
	"path/filepath"
	"regexp"
	"runtime"
	"slices"
	"strings"
	"testing"

	"rundown/dsp/synth"
)

// commandsOf returns the lines of the sh blocks of a Markdown text, without
// comments.
func commandsOf(text string) (lines []string) {
	inside := false
	for line := range strings.Lines(text) {
		line, _, _ = strings.Cut(strings.TrimSpace(line), " #")
		switch {
		case strings.HasPrefix(line, "```"):
			inside = line == "```sh"
		case inside && line != "":
			lines = append(lines, strings.TrimSpace(line))
		}
	}
	return lines
}

// TestReadme executes what the README tells its reader to type, in a folder
// that holds what the reader has by then.
func TestReadme(t *testing.T) {
	if testing.Short() {
		t.Skip("skipped: the demo takes its time under the race detector")
	}
	text, err := os.ReadFile(filepath.Join("..", "..", "README.md"))
	if err != nil {
		t.Fatal(err)
	}
	lines := commandsOf(string(text))
	for _, want := range []string{"go run ./cmd/rundown demo", "go test ./..."} {
		if !slices.Contains(lines, want) {
			t.Errorf("the README does not tell to type %q", want)
		}
	}
	for _, picture := range regexp.MustCompile(`!\[[^\]]+\]\(([^)]+)\)`).FindAllStringSubmatch(string(text), -1) {
		if _, err := os.Stat(filepath.Join("..", "..", filepath.FromSlash(picture[1]))); err != nil {
			t.Errorf("a picture of the README: %v", err)
		}
	}
	t.Chdir(t.TempDir())
	prepareNight(t, string(text))
	ran := 0
	for _, line := range lines {
		line = strings.Replace(line, "go run ./cmd/rundown", "rundown", 1)
		words := strings.Fields(line)
		if words[0] != "rundown" || slices.Contains(words, "|") {
			continue
		}
		ran++
		var stdout, stderr bytes.Buffer
		if code := run(t.Context(), words[1:], strings.NewReader(""), &stdout, &stderr); code != exitOK {
			t.Errorf("%s: exit code %d\n%s%s", line, code, stdout.Bytes(), stderr.Bytes())
		}
		if words[1] == "demo" {
			checkDemo(t, stdout.String())
			checkFinding(t, string(text), stdout.String())
		}
	}
	if ran < 8 {
		t.Errorf("only %d commands of the README were executed", ran)
	}
}

// prepareNight makes the recordings, the train file and the torque table that the
// README speaks of; the train and the torque are the README's own.
func prepareNight(t *testing.T, readme string) {
	t.Helper()
	night, err := os.ReadFile(record(t, "--duration", "4m", "--sample-rate", "8000"))
	if err != nil {
		t.Fatal(err)
	}
	for _, name := range []string{"night.wav", "part1.wav", "part2.wav", "before.wav", "after.wav", "before2.wav", "after2.wav"} {
		if err := os.WriteFile(name, night, 0o666); err != nil {
			t.Fatal(err)
		}
	}
	clock := synth.Recorder{SampleRate: 8000, ClockPPM: 20, Reference: synth.Reference{Hz: 1, Scatter: 20e-6}}
	alone := clock
	alone.Channels = 1
	for name, rec := range map[string]synth.Recording{
		"night2.wav": {Seed: 1, Duration: 240, Recorder: clock},
		"watch.wav":  {Seed: 2, Duration: 120, Movement: synth.Movement{Absent: true}, Room: synth.Room{Level: -60}, Recorder: alone},
	} {
		if _, err := writeRecording(t.Context(), name, rec); err != nil {
			t.Fatal(err)
		}
	}
	log := "time,temperature (°C)\n2031-05-04T21:25,20.1\n2031-05-04T21:30,20.5\n2031-05-04T21:35,21.2\n2031-05-04T21:40,21.0\n"
	if err := os.WriteFile("logger.csv", []byte(log), 0o666); err != nil {
		t.Fatal(err)
	}
	_, train, found := strings.Cut(readme, "```toml\n")
	train, _, closed := strings.Cut(train, "```")
	if !found || !closed {
		t.Fatal("the README shows no train file")
	}
	_, torque, found := strings.Cut(readme, "```csv\n")
	torque, _, closed = strings.Cut(torque, "```")
	if !found || !closed {
		t.Fatal("the README shows no torque table")
	}
	for name, text := range map[string]string{"going.toml": train, "torque.csv": torque} {
		if err := os.WriteFile(name, []byte(text), 0o666); err != nil {
			t.Fatal(err)
		}
	}
}

// checkFinding tells whether the README quotes what the demo says.
func checkFinding(t *testing.T, readme, stdout string) {
	t.Helper()
	_, quote, _ := strings.Cut(readme, "```text\n")
	quote, _, found := strings.Cut(quote, "```")
	if !found {
		t.Fatal("the README quotes no finding")
	}
	// Elsewhere, products and sums are rounded in one go, and the last digits differ.
	if runtime.GOARCH == "amd64" && !strings.Contains(stdout, quote) {
		t.Errorf("the README quotes\n%sand the demo says\n%s", quote, stdout)
	}
}

// checkDemo sees that the demo leaves what it promises, and that every file it
// speaks of is there.
func checkDemo(t *testing.T, stdout string) {
	t.Helper()
	for _, name := range []string{
		"demo.wav", "demo.toml", "demo.truth.json", "demo.rundown/summary.json", "demo.rundown/rate.png", "demo.rundown/beats.csv",
	} {
		path := filepath.Join("demo", filepath.FromSlash(name))
		if _, err := os.Stat(path); err != nil {
			t.Error(err)
		}
	}
	for _, want := range []string{"Stable band", "Open " + filepath.Join("demo", "demo.rundown", "report.html")} {
		if !strings.Contains(stdout, want) {
			t.Errorf("the demo does not say %q:\n%s", want, stdout)
		}
	}
}
