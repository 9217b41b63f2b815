package wavio

import (
	"encoding/binary"
	"errors"
	"fmt"
	"io"
	"math"
	"slices"
)

const (
	// noLength stands for a length that a container doesn't give.
	noLength = -1

	// sizeIn64 is the 32-bit size that refers to the ds64 chunk (EBU Tech
	// 3306). Programs that can't go back to a header write it too.
	sizeIn64 = math.MaxUint32

	// maxChunks bounds the search for the samples. Recorders write a dozen.
	maxChunks = 4096

	// maxLength bounds what is believed of a 64-bit length, in bytes: 1 PiB is
	// 30 years at the highest rate in stereo.
	maxLength = 1 << 50

	// maxFormat is the length of the longest format chunk that is understood,
	// that of WAVE_FORMAT_EXTENSIBLE, in bytes.
	maxFormat = 40
)

// container is what stands around the samples.
type container struct {
	order    binary.ByteOrder
	head     int    // bytes in the head of a chunk: 8, or 24 in Wave64
	align    int64  // chunks start at multiples of so many bytes: 2, or 8 in Wave64
	format   []byte // body of the format chunk, at most maxFormat bytes
	length   int64  // bytes of samples declared, or noLength
	start    int64  // position of the first sample in the stream; 0: not found
	riffSize int64  // bytes declared after the first eight, or noLength
	long     *ds64  // nil: none
}

// ds64 holds the 64-bit sizes of RF64 and BW64, in bytes.
type ds64 struct{ riff, data uint64 }

// readContainer reads up to the first sample. On a stream that can't seek, the
// format has to come before the samples.
func readContainer(s *stream) (*container, error) {
	head, err := s.take(12)
	if err != nil && err != io.EOF {
		return nil, err
	}
	if err := checkKind(head); err != nil {
		return nil, err
	}
	c := &container{order: binary.LittleEndian, head: 8, align: 2, riffSize: noLength}
	if string(head[:4]) == "RIFX" {
		c.order = binary.BigEndian
	}
	riff := c.bodySize(head)
	if string(head) == wave64Head {
		c.head, c.align = 24, 8
		rest, err := s.take(28) // of the GUID 4, the size 8, another GUID 16
		if err != nil {
			return nil, c.missing(err)
		}
		riff = c.bodySize(slices.Concat([]byte(wave64Head), rest))
	}
	for range maxChunks {
		head, err := s.take(c.head)
		if err != nil {
			return nil, c.missing(err)
		}
		done, err := c.chunk(s, string(head[:4]), c.bodySize(head))
		if err != nil {
			return nil, c.missing(err)
		}
		if done {
			c.riffSize = c.trueSize(riff, func(d *ds64) uint64 { return d.riff })
			return c, nil
		}
	}
	return nil, fmt.Errorf("no samples in the first %d chunks: %s", maxChunks, convertIt)
}

// bodySize returns the length of a chunk's body from its head. In Wave64, a GUID
// comes first, whose own first four bytes serve as the name, and then 64 bits
// that count the head too. What is no length there is read as sizeIn64.
func (c *container) bodySize(head []byte) int64 {
	if c.head == 8 {
		return int64(c.order.Uint32(head[4:]))
	}
	size := c.order.Uint64(head[16:])
	if size < 24 || size > maxLength {
		return sizeIn64
	}
	return int64(size) - 24
}

// chunk takes in the chunk whose head was just read, and tells whether the
// stream now stands at the first sample with the format known.
func (c *container) chunk(s *stream, id string, size int64) (done bool, err error) {
	switch {
	case id == "ds64":
		b, err := c.body(s, size, 16)
		if err != nil || len(b) < 16 {
			return false, err
		}
		c.long = &ds64{c.order.Uint64(b), c.order.Uint64(b[8:])}
		return false, nil
	case id == "fmt " && c.format == nil:
		if c.format, err = c.body(s, size, maxFormat); err != nil || c.start == 0 {
			return false, err
		}
		return true, s.seek(c.start)
	case id == "data" && c.start == 0:
		c.start = s.pos
		c.length = c.trueSize(size, func(d *ds64) uint64 { return d.data })
		if c.format != nil {
			return true, nil
		}
		if s.seeker == nil {
			return false, errors.New("the format comes after the samples, which a stream can't give: name the file instead, or convert it to plain WAV")
		}
		return false, s.skip(c.padded(c.length))
	}
	return false, s.skip(c.padded(size))
}

// trueSize tells the size meant by one that a chunk's head gives. Zero is what
// recorders write before they know it, so it counts as unknown.
func (c *container) trueSize(size int64, long func(*ds64) uint64) int64 {
	switch {
	case size != 0 && size != sizeIn64:
		return size
	case c.long == nil:
		return noLength
	}
	if n := long(c.long); n != 0 && n <= maxLength {
		return int64(n)
	}
	return noLength
}

// missing tells what the header lacks when the stream fails or ends within it.
func (c *container) missing(err error) error {
	switch {
	case err != io.EOF:
		return err
	case c.start != 0:
		return fmt.Errorf("the samples have no format: the file is damaged; copy it again, or %s", convertIt)
	}
	return errors.New("ends before its first sample: the file was cut short, so copy it again from the recorder")
}

// withoutPad drops the pad bytes from what follows the samples.
func (c *container) withoutPad(tail []byte) []byte {
	if c.length == noLength {
		return tail
	}
	for pad := c.padded(c.length) - c.length; pad > 0 && len(tail) > 0 && tail[0] == 0; pad-- {
		tail = tail[1:]
	}
	return tail
}

// chunksFollow reports whether tail, found at the end of the declared samples, is
// a sequence of chunks, and not more samples. whole says that it reaches to the
// end of the stream. A chunk that is longer than tail is believed only if the
// container's own size has room for more after the samples.
func (c *container) chunksFollow(tail []byte, whole bool) bool {
	if len(tail) < c.head {
		return false
	}
	for len(tail) >= c.head && printable(tail[:4]) {
		n := int64(c.head) + c.bodySize(tail[:c.head])
		if c.padded(n) > int64(len(tail)) {
			lastPadMissing := whole && n <= int64(len(tail))
			return lastPadMissing || c.length != noLength && c.riffSize > c.start+c.padded(c.length)
		}
		tail = tail[c.padded(n):]
	}
	return len(tail) < c.head
}

// recordingFollows reports whether b starts another recording.
func recordingFollows(b []byte) bool {
	return len(b) >= 12 && checkKind(b[:12]) == nil
}

// body returns the first bytes, at most limit, of the body of a chunk, and goes
// to the next chunk.
func (c *container) body(s *stream, size int64, limit int) ([]byte, error) {
	n := int(min(size, int64(limit)))
	b, err := s.take(n)
	if err != nil {
		return nil, err
	}
	b = append([]byte{}, b...)
	return b, s.skip(c.padded(size) - int64(n))
}

// padded is the room that n bytes take, up to where the next chunk starts;
// noLength takes none.
func (c *container) padded(n int64) int64 { return (n + c.align - 1) &^ (c.align - 1) }

func printable(b []byte) bool {
	for _, c := range b {
		if c < ' ' || c > '~' {
			return false
		}
	}
	return true
}
