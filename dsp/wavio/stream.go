package wavio

import (
	"bufio"
	"fmt"
	"io"
)

// bufferSize is the size of one read from a file, in bytes. Much smaller ones
// cost system calls; longer reads go past the buffer.
const bufferSize = 64 << 10

// stream is a buffered reader that counts its position, and seeks where the
// reader below it can.
type stream struct {
	*bufio.Reader
	src    io.Reader
	seeker io.Seeker // nil: forward only
	base   int64     // offset of src where the stream starts
	pos    int64     // bytes taken since then
	size   int64     // bytes from base to the end; -1 where that's unknown
}

func newStream(r io.Reader) (*stream, error) {
	s := &stream{Reader: bufio.NewReaderSize(r, bufferSize), src: r, size: -1}
	seeker, ok := r.(io.Seeker)
	if !ok {
		return s, nil
	}
	base, err := seeker.Seek(0, io.SeekCurrent)
	if err != nil {
		return s, nil // a pipe
	}
	end, err := seeker.Seek(0, io.SeekEnd)
	if err != nil {
		return s, nil
	}
	if _, err := seeker.Seek(base, io.SeekStart); err != nil {
		return nil, readError(err)
	}
	if end > base { // else a device, or nothing to seek in
		s.seeker, s.base, s.size = seeker, base, end-base
	}
	return s, nil
}

// take returns the next n bytes, at most bufferSize, and goes past them. They
// stay valid until the next call. At the end it returns what is left, with
// io.EOF.
func (s *stream) take(n int) ([]byte, error) {
	b, err := s.Peek(n)
	s.drop(len(b))
	return b, readError(err)
}

// drop goes past n bytes that are in the buffer.
func (s *stream) drop(n int) {
	s.Discard(n)
	s.pos += int64(n)
}

// maxEmptyReads is how often in turn the reader below may give nothing and no
// error.
const maxEmptyReads = 100

// read fills p, straight from the reader below where the buffer is empty and
// much is wanted. Where that ends or fails, it returns how much there was, with
// the error.
func (s *stream) read(p []byte) (n int, err error) {
	for empty := 0; n < len(p) && err == nil; empty++ {
		var k int
		k, err = s.Reader.Read(p[n:])
		n += k
		switch {
		case k > 0:
			empty = 0
		case err == nil && empty == maxEmptyReads:
			err = io.ErrNoProgress
		}
	}
	s.pos += int64(n)
	if n == len(p) {
		err = nil // it comes again
	}
	return n, err
}

// skip goes past n bytes. At the end of a file it stays there, without an error.
func (s *stream) skip(n int64) error {
	if s.seeker != nil && n > int64(s.Buffered()) {
		return s.seek(min(s.pos+n, s.size)) // systems refuse to go too far
	}
	n, err := io.CopyN(io.Discard, s.Reader, n)
	s.pos += n
	return readError(err)
}

// seek goes to a position counted from the start of the stream.
func (s *stream) seek(pos int64) error {
	if _, err := s.seeker.Seek(s.base+pos, io.SeekStart); err != nil {
		return readError(err)
	}
	s.Reset(s.src)
	s.pos = pos
	return nil
}

// readError says what failed. io.EOF stays what it is.
func readError(err error) error {
	if err == nil || err == io.EOF {
		return err
	}
	return fmt.Errorf("can't be read any further, so try again from another copy: %w", err)
}
