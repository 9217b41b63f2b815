package main

import (
	"context"
	"io"
	"os"
	"os/signal"
	"syscall"
)

// interruptible is a stream that ends when its context does, even while a read
// waits for a recorder that says nothing.
type interruptible struct {
	ctx    context.Context
	filled chan chunk
	empty  chan []byte
	last   chunk
	rest   []byte // of the last chunk
}

// chunk is what one read gave.
type chunk struct {
	data []byte
	err  error
}

// newInterruptible reads r until it or ctx ends. Its goroutine may outlive it
// in a read that never returns.
func newInterruptible(ctx context.Context, r io.Reader) *interruptible {
	const chunks = 4
	s := &interruptible{ctx: ctx, filled: make(chan chunk, chunks), empty: make(chan []byte, chunks)}
	for range chunks {
		s.empty <- make([]byte, 1<<16)
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
		case <-s.ctx.Done():
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
		select {
		case s.last = <-s.filled:
			s.rest = s.last.data
		case <-s.ctx.Done():
			s.last.err = io.EOF
		}
	}
	n := copy(p, s.rest)
	s.rest = s.rest[n:]
	return n, nil
}

// untilSecond returns a context for the work that follows the first interrupt,
// which ends ctx: a second one ends it.
func untilSecond(ctx context.Context) (work context.Context, stop func()) {
	work, cancel := context.WithCancel(context.WithoutCancel(ctx))
	forget := context.AfterFunc(ctx, func() {
		again := make(chan os.Signal, 1)
		signal.Notify(again, os.Interrupt, syscall.SIGTERM)
		defer signal.Stop(again)
		select {
		case <-again:
			cancel()
		case <-work.Done():
		}
	})
	return work, func() { forget(); cancel() }
}
