package wavio

import (
	"fmt"
	"io"
	"math"
	"slices"
	"strconv"
	"strings"
	"unicode"
	"unicode/utf8"
)

// tailSize is how far is looked past the declared end of the samples, in bytes.
const tailSize = 64 << 10

// Reader is the Source of a stream of one recording.
type Reader struct {
	name      string
	encoding  encoding
	container *container
	stream    *stream
	left      int64 // bytes of declared samples still to come
	frames    int64 // delivered so far
	nonFinite int64 // samples replaced by 0 so far
	notes     []string
	err       error // sticks
}

// NewReader reads the header of r, up to the first sample. Errors and Problems
// call the recording by name.
//
// If r can seek, it does so only to pass over long chunks, and to find a format
// that comes after the samples. Format().Frames is then at most what r holds; it
// is meant for progress, and a broken header may make it wrong.
func NewReader(r io.Reader, name string) (*Reader, error) {
	name = OneLine(name)
	rd, err := newReader(r, name)
	if err != nil {
		return nil, fmt.Errorf("%s: %w", name, err)
	}
	return rd, nil
}

// OneLine makes a name fit for messages: quoted, where a terminal would not take
// it as plain text of one line.
func OneLine(name string) string {
	if !utf8.ValidString(name) || strings.ContainsFunc(name, func(r rune) bool { return !unicode.IsPrint(r) }) {
		return strconv.Quote(name)
	}
	return name
}

func newReader(r io.Reader, name string) (*Reader, error) {
	s, err := newStream(r)
	if err != nil {
		return nil, err
	}
	c, err := readContainer(s)
	if err != nil {
		return nil, err
	}
	e, err := parseEncoding(c.format, c.order)
	if err != nil {
		return nil, err
	}
	if e.loose {
		first, _ := s.Peek(bufferSize) // Read tells an error
		if c.length != noLength {
			first = first[:min(int64(len(first)), c.length)]
		}
		if err := e.check24(first); err != nil {
			return nil, err
		}
	}
	rd := &Reader{name: name, encoding: e, container: c, stream: s, left: max(c.length, 0)}
	length := c.length
	if held := s.size - c.start; s.size >= 0 && (length == noLength || length > held) {
		length = held
	}
	if length != noLength {
		rd.encoding.Frames = max(length, 0) / int64(e.frame)
	}
	if e.note != "" {
		rd.note("%s", e.note)
	}
	return rd, nil
}

// Format describes the recording.
func (r *Reader) Format() Format { return r.encoding.Format }

// Read implements Source. What could be read before a read error is delivered
// first.
func (r *Reader) Read(dst [][]float32) (frames int, err error) {
	n := checkBuffers(dst, r.encoding.Channels)
	for frames < n {
		k := r.ready(n - frames)
		if k == 0 {
			break
		}
		r.convert(dst, frames, k)
		frames += k
	}
	if frames == 0 {
		return 0, r.err
	}
	return frames, nil
}

// checkBuffers returns the number of frames that dst asks for.
func checkBuffers(dst [][]float32, channels int) (frames int) {
	if len(dst) != channels {
		panic(fmt.Sprintf("wavio: Read into %d buffers from %d channels", len(dst), channels))
	}
	for _, d := range dst {
		switch {
		case d == nil:
		case len(d) == 0:
			panic("wavio: Read into an empty buffer")
		case frames == 0:
			frames = len(d)
		case len(d) != frames:
			panic("wavio: Read into buffers of different lengths")
		}
	}
	if frames == 0 {
		panic("wavio: Read into no buffer")
	}
	return frames
}

// ready returns how many whole frames the buffer holds, at most want, and fills
// it if there is none. At the end it returns 0, and r.err is set.
func (r *Reader) ready(want int) int {
	frame := r.encoding.frame
	if r.err == nil && r.left < int64(frame) {
		r.endOfSamples()
	}
	if r.err != nil {
		return 0
	}
	if r.stream.Buffered() < frame {
		if b, err := r.stream.Peek(frame); err != nil {
			r.endOfStream(len(b), err)
			return 0
		}
	}
	held := min(int64(r.stream.Buffered()), r.left)
	return int(min(int64(want), held/int64(frame)))
}

// convert takes k frames out of the buffer and puts them at dst[c][at:].
func (r *Reader) convert(dst [][]float32, at, k int) {
	frame := r.encoding.frame
	src, _ := r.stream.Peek(k * frame)
	for c, d := range dst {
		if d != nil {
			r.nonFinite += int64(r.encoding.decode(d[at:at+k], src[c*r.encoding.width:], frame))
		}
	}
	r.stream.drop(k * frame)
	r.left -= int64(k * frame)
	r.frames += int64(k)
}

// fill reads whole frames of the declared samples into b, and returns how many
// there were. Where they end early, r.err is set.
func (r *Reader) fill(b []byte) (frames int) {
	n, err := r.stream.read(b)
	frames = n / r.encoding.frame
	r.left -= int64(frames * r.encoding.frame)
	r.frames += int64(frames)
	if err != nil {
		r.endOfStream(n%r.encoding.frame, err)
	}
	return frames
}

// endOfSamples decides, where the declared samples end, whether that is so.
// Programs that write to a pipe declare some length, often 2 GiB, and a 32-bit
// length wraps round at 4 GiB: what goes on for long and is no chunk is samples.
func (r *Reader) endOfSamples() {
	b, err := r.stream.Peek(tailSize)
	partial := min(int(r.left), len(b))
	tail := r.container.withoutPad(b[partial:])
	unknown := r.container.length == noLength
	switch {
	case recordingFollows(tail):
		r.note("another recording follows the first and was not read; give each as a file of its own")
	case r.container.chunksFollow(tail, err != nil):
		if unknown {
			r.note("there are no samples")
		}
	case unknown, err == nil:
		r.left = math.MaxInt64
		return
	case len(tail) > 0:
		r.note("what follows the samples belongs to no chunk and was left out (%d bytes)", len(tail))
	}
	r.noteCutFrame(partial)
	r.err = io.EOF
}

// endOfStream ends the recording where the stream did, or where it failed.
// partial is the number of bytes after the last whole frame.
func (r *Reader) endOfStream(partial int, err error) {
	if err != io.EOF {
		r.err = fmt.Errorf("%s: %w", r.name, readError(err))
		return
	}
	r.err = io.EOF
	declared := r.container.length / int64(r.encoding.frame)
	switch {
	case r.container.length != noLength && r.frames < declared:
		r.note("the header declares %s, and only %s are there; all of them were read", r.count(declared), r.count(r.frames))
	case r.container.length != noLength:
		r.note("the samples go on past the %s that the header declares; all were read, %s", r.count(declared), r.count(r.frames))
	case r.frames > 0 || partial > 0:
		r.note("the header gives no length, as when a recorder is stopped or writes to a pipe; all that follows was read, %s", r.count(r.frames))
	default:
		r.note("there are no samples")
	}
	r.noteCutFrame(partial)
}

// count writes a number of frames for people.
func (r *Reader) count(frames int64) string {
	return fmt.Sprintf("%d frames (%.1f s)", frames, float64(frames)/float64(r.encoding.SampleRate))
}

func (r *Reader) noteCutFrame(partial int) {
	if partial > 0 {
		r.note("the last frame is cut and was left out (%d of %d bytes)", partial, r.encoding.frame)
	}
}

func (r *Reader) note(format string, args ...any) {
	r.notes = append(r.notes, "In "+r.name+", "+fmt.Sprintf(format, args...)+".")
}

// Problems implements Source.
func (r *Reader) Problems() []string {
	all := slices.Clone(r.notes)
	if r.nonFinite > 0 {
		all = append(all, fmt.Sprintf("In %s, samples that were not finite numbers were taken as 0 (%d in all).", r.name, r.nonFinite))
	}
	return all
}
