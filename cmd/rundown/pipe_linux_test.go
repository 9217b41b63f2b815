package main

import (
	"os"
	"strings"
	"testing"

	"golang.org/x/sys/unix"
)

func TestWiden(t *testing.T) {
	r, w, err := os.Pipe()
	if err != nil {
		t.Fatal(err)
	}
	defer r.Close()
	defer w.Close()
	widen(r)
	held, err := unix.FcntlInt(w.Fd(), unix.F_GETPIPE_SZ, 0)
	if err != nil {
		t.Fatal(err)
	}
	if held < pipeSize {
		// A user whose pipes hold much already is granted no more.
		if _, err := unix.FcntlInt(w.Fd(), unix.F_SETPIPE_SZ, pipeSize); err == nil {
			t.Errorf("a pipe of %d bytes was not widened to %d", held, pipeSize)
		}
	}
	file, err := os.Open(os.DevNull)
	if err != nil {
		t.Fatal(err)
	}
	defer file.Close()
	widen(file) // neither is a pipe
	widen(strings.NewReader(""))
}
