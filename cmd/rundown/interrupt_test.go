package main

import (
	"bytes"
	"context"
	"errors"
	"io"
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
