package main

import (
	"bytes"
	"context"
	"os"
	"path/filepath"
	"strings"
	"testing"
)

// record makes a recording of a healthy movement and returns its path.
func record(tb testing.TB, args ...string) string {
	tb.Helper()
	path := filepath.Join(tb.TempDir(), "night.wav")
	var out bytes.Buffer
	if code := run(context.Background(), append(append([]string{"synth"}, args...), path), nil, &out, &out); code != exitOK {
		tb.Fatal(out.String())
	}
	return path
}

// Interrupted while it reads files, a run leaves older results as they were,
// new ones not at all, and one line that says so.
func TestInterruptedWhileReadingFiles(t *testing.T) {
	path := record(t, "--duration", "19s", "--sample-rate", "8000")
	dir := strings.TrimSuffix(path, ".wav") + ".rundown"
	ctx, cancel := context.WithCancel(t.Context())
	cancel()
	interrupted := func() string {
		var stdout, stderr bytes.Buffer
		if code := run(ctx, []string{"analyse", path}, nil, &stdout, &stderr); code != exitFailure {
			t.Errorf("exit code %d, want %d", code, exitFailure)
		}
		if stdout.Len() > 0 {
			t.Errorf("on standard output: %s", stdout.String())
		}
		return stderr.String()
	}
	if got := interrupted(); !strings.HasPrefix(got, "rundown: interrupted: ") || strings.Count(got, "\n") != 1 {
		t.Errorf("message %q", got)
	}
	if _, err := os.Stat(dir); err == nil {
		t.Error("an interrupted run made a results folder")
	}
	var out bytes.Buffer
	if code := run(t.Context(), []string{"analyse", path}, nil, &out, &out); code != exitOK {
		t.Fatal(out.String())
	}
	before := listing(t, dir)
	interrupted()
	if after := listing(t, dir); after != before {
		t.Errorf("an interrupted run changed %s to %s", before, after)
	}
}

// listing names the files in dir, with their sizes and times.
func listing(t *testing.T, dir string) string {
	t.Helper()
	entries, err := os.ReadDir(dir)
	if err != nil {
		t.Fatal(err)
	}
	var b strings.Builder
	for _, e := range entries {
		info, err := e.Info()
		if err != nil {
			t.Fatal(err)
		}
		b.WriteString(info.Name() + " " + info.ModTime().String() + "\n")
	}
	return b.String()
}

// full is a standard output that cannot be written to.
type full struct{}

func (full) Write([]byte) (int, error) { return 0, os.ErrClosed }

func TestStandardOutputFails(t *testing.T) {
	path := record(t, "--duration", "19s", "--sample-rate", "8000")
	for _, args := range [][]string{{"analyse", path}, {"analyse", "--json", path}} {
		var stderr bytes.Buffer
		if code := run(t.Context(), args, nil, full{}, &stderr); code != exitFailure || !strings.HasPrefix(stderr.String(), "rundown: standard output: ") {
			t.Errorf("%v: exit code %d, message %q", args[:1], code, stderr.String())
		}
	}
}

// BenchmarkAnalyse is the whole command on ten minutes of 48 kHz: reading,
// listening, tables and charts.
func BenchmarkAnalyse(b *testing.B) {
	path := record(b, "--duration", "10m")
	dir := b.TempDir()
	for b.Loop() {
		var out bytes.Buffer
		if code := run(b.Context(), []string{"analyse", "--out", dir, path}, nil, &out, &out); code != exitOK {
			b.Fatal(out.String())
		}
	}
}

// endsWith is a context that ends once a file is there.
type endsWith struct {
	context.Context
	path string
}

func (c endsWith) Err() error {
	if _, err := os.Stat(c.path); err == nil {
		return context.Canceled
	}
	return nil
}

// An interrupt that comes when the last file is in place comes too late, and the
// command says what is there.
func TestInterruptedAfterTheLastFile(t *testing.T) {
	dir := t.TempDir()
	in := func(name string) string { return filepath.Join(dir, name) }
	for _, c := range []struct {
		last string
		args []string
	}{
		{"new.wav", []string{"synth", "--duration", "19s", "--sample-rate", "8000", in("new.wav")}},
		{"new.rundown/summary.json", []string{"analyse", in("new.wav")}},
		{"new.comparison/comparison.json", []string{"compare", "--window", "3s", in("new.wav"), in("new.wav")}},
	} {
		var stdout, stderr bytes.Buffer
		code := run(endsWith{t.Context(), in(c.last)}, c.args, nil, &stdout, &stderr)
		if code != exitOK || stdout.Len() == 0 || stderr.Len() > 0 {
			t.Errorf("%s: exit code %d, %q", c.args[0], code, stderr.String())
		}
	}
}
