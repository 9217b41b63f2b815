package capture

import (
	"bytes"
	"errors"
	"io"
	"testing"
	"testing/synctest"
	"time"
)

// What is put in comes out in order; where there is no room, as many zeros stand
// for it, and it is told how many and where.
func TestQueue(t *testing.T) {
	q := newQueue([]byte("head"), 4)
	block := make([]byte, 1<<20)
	for i := range block {
		block[i] = byte(i%251 + 1)
	}
	put := func(n int) {
		for range n {
			if _, err := q.Write(block); err != nil {
				t.Fatal(err)
			}
		}
	}
	put(32 + 3)
	first := make([]byte, 4+2<<20)
	if _, err := io.ReadFull(q, first); err != nil {
		t.Fatal(err)
	}
	put(2 + 1)
	q.end(io.EOF)
	rest, err := io.ReadAll(q)
	if err != nil {
		t.Fatal(err)
	}
	want := bytes.Join([][]byte{[]byte("head"), bytes.Repeat(block, 32), make([]byte, 3<<20), bytes.Repeat(block, 2), make([]byte, 1<<20)}, nil)
	if got := append(first, rest...); !bytes.Equal(got, want) {
		t.Errorf("%d bytes, not the %d that were put in, or others", len(got), len(want))
	}
	const frames = 1 << 18
	if holes := q.lost(); len(holes) != 2 || holes[0] != (Hole{32 * frames, 3 * frames}) || holes[1] != (Hole{37 * frames, frames}) {
		t.Errorf("holes %v", holes)
	}
	if q.came() != 38*frames {
		t.Errorf("%d frames came", q.came())
	}
}

// A device that gives nothing counts as lost.
func TestQueueSilent(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		q := newQueue([]byte("head"), 2)
		io.ReadFull(q, make([]byte, 4))
		start := time.Now()
		if _, err := q.Read(make([]byte, 4)); !errors.Is(err, errSilent) || time.Since(start) != silence {
			t.Errorf("error %v after %v", err, time.Since(start))
		}
		if _, err := q.Write([]byte("late")); !errors.Is(err, errSilent) {
			t.Errorf("error %v", err)
		}
	})
}

// Frames that a pipe breaks are put together again.
func TestWholeFrames(t *testing.T) {
	q := newQueue(nil, 6)
	w := whole{q, new([]byte)}
	for _, part := range []string{"a", "bcdefg", "hijk", "l", "mnopqrstuvwxyz"} {
		if n, err := w.Write([]byte(part)); n != len(part) || err != nil {
			t.Fatal(n, err)
		}
	}
	q.end(io.EOF)
	if got, _ := io.ReadAll(q); string(got) != "abcdefghijklmnopqrstuvwx" {
		t.Errorf("%q", got)
	}
}
