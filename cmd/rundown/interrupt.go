package main

import (
	"context"
	"errors"
	"io"
	"os"
	"os/signal"
	"time"
)

// interruptible is a stream that ends when its context does, even while a read
// waits for a recorder that says nothing. What the recorder has said by then is
// still read.
type interruptible struct {
	ctx    context.Context
	filled chan chunk
	empty  chan []byte
	ended  chan struct{}
	left   int // bytes that are read at most once ctx has ended
	last   chunk
	rest   []byte // of the last chunk
}

// chunk is what one read gave.
type chunk struct {
	data []byte
	err  error
}

const (
	pipeSize  = 1 << 20 // bytes that a pipe on standard input may hold
	chunks    = 4
	chunkSize = 1 << 16
	// silence is how long a pipe that holds anything keeps a reader waiting at most.
	silence = 50 * time.Millisecond
)

// untilInterrupted returns a piped recording, which ends as ctx does, and a context
// for the work on it.
func untilInterrupted(ctx context.Context, stdin io.Reader) (recording io.Reader, work context.Context, stop func(), err error) {
	if isTerminal(stdin) {
		return nil, nil, nil, usageError{errors.New("standard input is the keyboard: pipe a recording into it")}
	}
	widen(stdin)
	work, stop = untilSecond(ctx)
	return newInterruptible(ctx, stdin), work, stop, nil
}

// newInterruptible reads r until it or ctx ends. Its goroutine may outlive it
// in a read that never returns.
func newInterruptible(ctx context.Context, r io.Reader) *interruptible {
	s := &interruptible{
		ctx: ctx, filled: make(chan chunk, chunks), empty: make(chan []byte, chunks), ended: make(chan struct{}),
		left: pipeSize + chunks*chunkSize,
	}
	for range chunks {
		s.empty <- make([]byte, chunkSize)
	}
	go s.pump(r)
	return s
}

func (s *interruptible) pump(r io.Reader) {
	for {
		var c chunk
		select {
		case buf := <-s.empty:
			n, err := r.Read(buf[:cap(buf)])
			c = chunk{buf[:n], err}
		case <-s.ended:
			return
		}
		s.filled <- c // never waits: there are no more chunks than it has places
		if c.err != nil {
			return
		}
	}
}

func (s *interruptible) Read(p []byte) (int, error) {
	for len(s.rest) == 0 {
		if s.last.err != nil {
			return 0, s.last.err
		}
		if s.last.data != nil {
			s.empty <- s.last.data
			s.last.data = nil
		}
		s.next()
	}
	n := copy(p, s.rest)
	s.rest = s.rest[n:]
	return n, nil
}

// next waits for a chunk, or for the context to end. Once it has, it takes what is
// there.
func (s *interruptible) next() {
	interrupted := s.ctx.Done()
	var silent <-chan time.Time
	if s.ctx.Err() != nil {
		interrupted, silent = nil, time.After(silence)
	}
	select {
	case s.last = <-s.filled:
		s.rest = s.last.data
		if silent != nil {
			s.left -= len(s.rest)
		}
	case <-interrupted:
	case <-silent:
		s.left = 0
	}
	if s.left <= 0 && s.last.err == nil {
		s.last.err = io.EOF
		close(s.ended)
	}
}

// untilSecond returns a context for the work that follows the first interrupt,
// which ends ctx: Ctrl-C once more ends it. A terminal that is closed and a system
// that shuts down may signal several times.
func untilSecond(ctx context.Context) (work context.Context, stop func()) {
	work, cancel := context.WithCancel(context.WithoutCancel(ctx))
	forget := context.AfterFunc(ctx, func() {
		again := make(chan os.Signal, 1)
		signal.Notify(again, os.Interrupt)
		defer signal.Stop(again)
		select {
		case <-again:
			cancel()
		case <-work.Done():
		}
	})
	return work, func() { forget(); cancel() }
}
