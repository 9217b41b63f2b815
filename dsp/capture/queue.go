package capture

import (
	"errors"
	"sync"
	"time"
)

// waiting is how much sound waits for a slow disk at the most, in bytes: 5
// minutes of 48 kHz at 16 bit, one of 96 kHz at 24 bit in stereo.
const waiting = 32 << 20

// silence is how long a device may give nothing before it counts as lost. One
// that works gives zeros at the least.
const silence = 5 * time.Second

var errSilent = errors.New("no sound came for 5 s")

// Hole is a stretch of a recording that the queue had no room for: it was
// written as zeros.
type Hole struct{ Start, Frames int64 } // in frames

// queue holds sound between a device, which does not wait, and its reader.
type queue struct {
	frame   int // bytes
	silence time.Duration

	mu    sync.Mutex
	more  sync.Cond // something was put in
	parts []stretch
	held  int64 // bytes that parts take
	put   int64 // bytes that were put in since the head, lost ones included
	holes []Hole
	err   error // what the queue ends with
}

// stretch is sound, or where data is nil so many zeros.
type stretch struct {
	data  []byte
	zeros int64
}

// newQueue returns one of frames of so many bytes, after the head of a
// recording.
func newQueue(head []byte, frame int) *queue {
	q := &queue{frame: frame, silence: silence, parts: []stretch{{data: head}}}
	q.more.L = &q.mu
	return q
}

// Write takes whole frames in, or counts them as lost. It never waits.
func (q *queue) Write(p []byte) (int, error) {
	q.mu.Lock()
	defer q.mu.Unlock()
	if q.err != nil {
		return 0, q.err
	}
	n := int64(len(p))
	last := len(q.parts) - 1
	switch {
	case q.held+n <= waiting:
		q.parts = append(q.parts, stretch{data: append([]byte(nil), p...)})
		q.held += n
	case last >= 0 && q.parts[last].data == nil:
		q.parts[last].zeros += n
		q.holes[len(q.holes)-1].Frames += n / int64(q.frame)
	default:
		q.parts = append(q.parts, stretch{zeros: n})
		q.holes = append(q.holes, Hole{q.put / int64(q.frame), n / int64(q.frame)})
	}
	q.put += n
	q.more.Broadcast()
	return len(p), nil
}

// end makes the queue end, once it is empty, with an error.
func (q *queue) end(err error) {
	q.mu.Lock()
	defer q.mu.Unlock()
	if q.err == nil {
		q.err = err
	}
	q.more.Broadcast()
}

// Read implements io.Reader. It waits for what is to come.
func (q *queue) Read(p []byte) (int, error) {
	q.mu.Lock()
	defer q.mu.Unlock()
	late := time.AfterFunc(q.silence, func() { q.end(errSilent) })
	defer late.Stop()
	for len(q.parts) == 0 {
		if q.err != nil {
			return 0, q.err
		}
		q.more.Wait()
	}
	s := &q.parts[0]
	if s.data == nil {
		n := int(min(s.zeros, int64(len(p))))
		clear(p[:n])
		if s.zeros -= int64(n); s.zeros == 0 {
			q.parts = q.parts[1:]
		}
		return n, nil
	}
	n := copy(p, s.data)
	if s.data = s.data[n:]; len(s.data) == 0 {
		q.parts = q.parts[1:]
	}
	q.held -= int64(n)
	return n, nil
}

// came returns how many frames were put in.
func (q *queue) came() int64 {
	q.mu.Lock()
	defer q.mu.Unlock()
	return q.put / int64(q.frame)
}

// lost returns the holes so far.
func (q *queue) lost() []Hole {
	q.mu.Lock()
	defer q.mu.Unlock()
	return append([]Hole(nil), q.holes...)
}
