package main

import (
	"bytes"
	"context"
	"errors"
	"io"
	"os"
	"os/signal"
	"runtime"
	"testing"
	"testing/iotest"
	"time"
)

func TestInterruptibleDeliversEverything(t *testing.T) {
	want := make([]byte, 1<<20+7)
	for i := range want {
		want[i] = byte(i * 7 >> 3)
	}
	for name, r := range map[string]io.Reader{
		"whole": bytes.NewReader(want),
		"bytes": iotest.OneByteReader(bytes.NewReader(want[:1000])),
		"eof":   iotest.DataErrReader(bytes.NewReader(want)),
	} {
		got, err := io.ReadAll(newInterruptible(t.Context(), r))
		if err != nil || !bytes.Equal(got, want[:len(got)]) || (name != "bytes" && len(got) != len(want)) {
			t.Errorf("%s: %d bytes, %v", name, len(got), err)
		}
	}
}

func TestInterruptiblePassesErrorsOn(t *testing.T) {
	fault := errors.New("unplugged")
	if _, err := io.ReadAll(newInterruptible(t.Context(), iotest.ErrReader(fault))); err != fault {
		t.Errorf("err = %v, want %v", err, fault)
	}
}

// A recorder that says nothing must not keep an interrupted run waiting.
func TestInterruptibleEndsWhileWaiting(t *testing.T) {
	ctx, cancel := context.WithCancel(t.Context())
	r, w := io.Pipe()
	defer w.Close()
	s := newInterruptible(ctx, r)
	time.AfterFunc(10*time.Millisecond, cancel)
	if got, err := io.ReadAll(s); len(got) > 0 || err != nil {
		t.Errorf("got %d bytes, %v; want a clean end", len(got), err)
	}
}

// What lies in the pipe when the interrupt comes was recorded, and is read; a
// recorder that goes on is left to itself.
func TestInterruptibleReadsWhatIsThere(t *testing.T) {
	ctx, cancel := context.WithCancel(t.Context())
	cancel()
	r, w := io.Pipe()
	defer w.Close()
	there := 5 * chunkSize
	waits := io.MultiReader(bytes.NewReader(make([]byte, there)), r)
	if got, err := io.ReadAll(newInterruptible(ctx, waits)); len(got) != there || err != nil {
		t.Errorf("got %d bytes, %v; want the %d that were there", len(got), err, there)
	}
	if n, err := io.Copy(io.Discard, newInterruptible(ctx, endless{})); n < pipeSize || n > 2*pipeSize || err != nil {
		t.Errorf("got %d bytes, %v, of a stream without end", n, err)
	}
}

// endless is a stream of zeros.
type endless struct{}

func (endless) Read(p []byte) (int, error) { return len(p), nil }

// The first interrupt ends the stream, and the work goes on; a second one ends
// the work.
func TestSecondInterruptEndsTheWork(t *testing.T) {
	if runtime.GOOS == "windows" {
		t.Skip("skipped: no signals to send")
	}
	// Without a receiver of its own, the test itself would be interrupted before
	// untilSecond listens.
	own := make(chan os.Signal, 1)
	signal.Notify(own, os.Interrupt)
	defer signal.Stop(own)
	ctx, first := context.WithCancel(t.Context())
	work, stop := untilSecond(ctx)
	defer stop()
	first()
	select {
	case <-work.Done():
		t.Fatal("the first interrupt ended the work")
	case <-time.After(20 * time.Millisecond):
	}
	self, err := os.FindProcess(os.Getpid())
	if err != nil {
		t.Fatal(err)
	}
	for range 500 {
		if err := self.Signal(os.Interrupt); err != nil {
			t.Fatal(err)
		}
		select {
		case <-work.Done():
			return
		case <-time.After(10 * time.Millisecond):
		}
	}
	t.Error("the work goes on after the second interrupt")
}
