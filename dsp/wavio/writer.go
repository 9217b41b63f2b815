package wavio

import (
	"encoding/binary"
	"errors"
	"fmt"
	"io"
	"math"
)

// Writer writes a recording, WAV up to 4 GiB and RF64 beyond. Close completes
// it.
type Writer struct {
	w       io.Writer
	seeker  io.Seeker // nil: the length was declared
	start   int64     // offset of the header
	format  Format
	encode  encoder
	frame   int   // bytes in a frame
	written int64 // frames
	buf     []byte
	err     error // sticks
}

// NewWriter writes the header of a recording to w. Samples are stored as 16- or
// 24-bit integers or as 32-bit floating point, by f.
//
// f.Frames is the number of frames that will be written; w may then be a pipe.
// With -1 it is taken as it comes, and w has to be an io.Seeker, because Close
// goes back to the header. Until then the header gives no length, and what was
// written so far can be read.
//
// It panics if f is not a format that can be written.
func NewWriter(w io.Writer, f Format) (*Writer, error) {
	e, width := encoderFor(f)
	if e == nil || f.SampleRate < 1 || f.Channels < 1 || f.Channels*width > 1<<16-1 {
		panic(fmt.Sprintf("wavio: NewWriter can't write %+v", f))
	}
	frame := f.Channels * width
	wr := &Writer{w: w, format: f, encode: e, frame: frame, buf: make([]byte, max(bufferSize/frame, 1)*frame)}
	samples := int64(noLength)
	if f.Frames >= 0 {
		samples = f.Frames * int64(frame)
	} else if err := wr.findStart(); err != nil {
		return nil, err
	}
	h, err := header(f, samples, f.Frames < 0)
	if err != nil {
		return nil, err
	}
	if _, err := w.Write(h); err != nil {
		return nil, err
	}
	return wr, nil
}

func (w *Writer) findStart() (err error) {
	seeker, ok := w.w.(io.Seeker)
	if !ok {
		return errors.New("wavio: the number of frames must be known to write to a stream")
	}
	if w.start, err = seeker.Seek(0, io.SeekCurrent); err != nil {
		return fmt.Errorf("wavio: the number of frames must be known to write to a pipe: %w", err)
	}
	w.seeker = seeker
	return nil
}

// Write appends frames: src[c] holds channel c, all of one length, full scale
// ±1. Integers are rounded to the nearest, half to even, without dither, and
// clipped at full scale. Floating point is stored as it is. What is not a number
// becomes 0, and so does an infinity in floating point. Samples that came from
// integers of this width or less are stored unchanged.
func (w *Writer) Write(src [][]float32) error {
	if len(src) != w.format.Channels {
		panic(fmt.Sprintf("wavio: Write of %d channels to %d", len(src), w.format.Channels))
	}
	for _, s := range src {
		if len(s) != len(src[0]) {
			panic("wavio: Write of channels of different lengths")
		}
	}
	for at := 0; at < len(src[0]) && w.err == nil; {
		n := min(len(src[0])-at, len(w.buf)/w.frame)
		w.writeBlock(src, at, n)
		at += n
	}
	return w.err
}

// writeBlock writes n frames, that fit the buffer, from src[c][at:].
func (w *Writer) writeBlock(src [][]float32, at, n int) {
	if w.seeker == nil && w.written+int64(n) > w.format.Frames {
		w.err = fmt.Errorf("wavio: more than the %d frames that were declared", w.format.Frames)
		return
	}
	width := w.frame / w.format.Channels
	for c, s := range src {
		w.encode(w.buf[c*width:], s[at:at+n], w.frame)
	}
	if _, w.err = w.w.Write(w.buf[:n*w.frame]); w.err == nil {
		w.written += int64(n)
	}
}

// Close completes the recording, and the header if the number of frames wasn't
// declared. It doesn't close the writer below. It returns an error if fewer
// frames were written than were declared, or if a Write failed.
func (w *Writer) Close() error {
	if w.err != nil {
		return w.err
	}
	w.err = errors.New("wavio: the writer is closed")
	samples := w.written * int64(w.frame)
	if samples%2 != 0 {
		if _, err := w.w.Write([]byte{0}); err != nil {
			return err
		}
	}
	if w.seeker != nil {
		return w.completeHeader(samples)
	}
	if w.written < w.format.Frames {
		return fmt.Errorf("wavio: %d of the %d frames that were declared", w.written, w.format.Frames)
	}
	return nil
}

func (w *Writer) completeHeader(samples int64) error {
	h, err := header(w.format, samples, true)
	if err != nil {
		return err
	}
	if _, err := w.seeker.Seek(w.start, io.SeekStart); err != nil {
		return err
	}
	if _, err := w.w.Write(h); err != nil {
		return err
	}
	_, err = w.seeker.Seek(0, io.SeekEnd)
	return err
}

// encoder converts one channel: src[i] goes to dst[i*stride:].
type encoder func(dst []byte, src []float32, stride int)

// encoderFor returns the encoder for a format, and the bytes that it takes for
// a sample, or nil.
func encoderFor(f Format) (encoder, int) {
	switch {
	case f.BitsPerSample == 16 && !f.Float:
		return encodeInt16, 2
	case f.BitsPerSample == 24 && !f.Float:
		return encodeInt24, 3
	case f.BitsPerSample == 32 && f.Float:
		return encodeFloat32, 4
	}
	return nil, 0
}

func encodeInt16(dst []byte, src []float32, stride int) {
	for i, v := range src {
		binary.LittleEndian.PutUint16(dst[i*stride:], uint16(quantise(v, 1<<15)))
	}
}

func encodeInt24(dst []byte, src []float32, stride int) {
	for i, v := range src {
		q := uint32(quantise(v, 1<<23))
		d := dst[i*stride : i*stride+3]
		d[0], d[1], d[2] = byte(q), byte(q>>8), byte(q>>16)
	}
}

func encodeFloat32(dst []byte, src []float32, stride int) {
	for i, v := range src {
		if !finite(v) {
			v = 0
		}
		binary.LittleEndian.PutUint32(dst[i*stride:], math.Float32bits(v))
	}
}

// quantise rounds v to a step of 1/full, within full scale.
func quantise(v, full float32) int32 {
	x := math.RoundToEven(float64(v) * float64(full))
	switch {
	case x != x:
		return 0
	case x >= float64(full):
		return int32(full) - 1
	case x < -float64(full):
		return -int32(full)
	}
	return int32(x)
}
