//go:build unix

package wavio_test

import (
	"net"
	"os"
	"path/filepath"
	"strings"
	"syscall"
	"testing"
	"time"

	"rundown/dsp/wavio"
)

func TestOpenPipe(t *testing.T) {
	path := filepath.Join(t.TempDir(), "night.wav")
	if err := syscall.Mkfifo(path, 0o600); err != nil {
		t.Fatal(err)
	}

	began := time.Now()
	_, err := wavio.Open(path)
	if err == nil || !strings.HasPrefix(err.Error(), path+": ") || !strings.Contains(err.Error(), "nothing writes to this pipe") {
		t.Errorf("error %v", err)
	}
	if d := time.Since(began); d > 10*time.Second {
		t.Errorf("waited for %v", d)
	}

	want := coarse(1, 100_000)
	go func() {
		w, err := os.OpenFile(path, os.O_WRONLY, 0)
		if err != nil {
			return
		}
		defer w.Close()
		w.Write(wave(pcm16.format(48000, 1), chunk("data", pcm16.samples(want))))
	}()
	f, err := wavio.Open(path)
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	expect(t, f, want)
}

func TestOpenSocket(t *testing.T) {
	folder, err := os.MkdirTemp("", "") // the names of sockets are short
	if err != nil {
		t.Fatal(err)
	}
	defer os.RemoveAll(folder)
	path := filepath.Join(folder, "night.wav")
	l, err := net.Listen("unix", path)
	if err != nil {
		t.Skipf("skipped: no sockets here: %v", err)
	}
	defer l.Close()
	if _, err := wavio.Open(path); err == nil || !strings.Contains(err.Error(), "device or a socket") {
		t.Errorf("error %v", err)
	}
}

// TestStdinClosed reads from a standard input that was closed early.
func TestStdinClosed(t *testing.T) {
	r, w, err := os.Pipe()
	if err != nil {
		t.Fatal(err)
	}
	w.Close()
	if _, err := wavio.NewReader(r, "night.wav"); err == nil || !strings.Contains(err.Error(), "is empty") {
		t.Errorf("error %v", err)
	}
	r.Close()
	_, err = wavio.NewReader(r, "night.wav")
	checkMessage(t, err)
}
