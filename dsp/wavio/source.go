package wavio

import (
	"io"
)

// Format describes a stream of audio frames.
type Format struct {
	SampleRate    int   // nominal frames per second, Hz
	Channels      int   // samples per frame, at least 1
	BitsPerSample int   // width of one stored sample: 8, 16, 24, 32 or 64
	Float         bool  // samples are stored as IEEE 754 numbers
	Frames        int64 // frames the containers declare; -1 where they don't say
}

// Source is a stream of audio frames, read once from start to end.
//
// Read fills planar buffers: dst has Format().Channels entries, and dst[c]
// receives channel c, full scale ±1. A nil entry skips that channel, which
// costs nearly nothing; all others have one length n > 0. Read fills n frames
// except at the end of the stream, where it may return fewer; io.EOF comes
// only with 0 frames, and is repeated by every later call, as is any other
// error. Samples that are not finite numbers are delivered as 0.
type Source interface {
	Format() Format
	Read(dst [][]float32) (frames int, err error)
	// Problems tells, in whole sentences, what was found wrong so far with the
	// containers (an unfinished header, a file cut short, …).
	Problems() []string
}

// Copy writes all of src to w, and leaves w to be closed. The two must have the
// same number of channels.
func Copy(w *Writer, src Source) error {
	block := make([][]float32, src.Format().Channels)
	frames := max(bufferSize/4/len(block), 1)
	for c := range block {
		block[c] = make([]float32, frames)
	}
	part := make([][]float32, len(block))
	for {
		n, err := src.Read(block)
		if err == io.EOF {
			return nil
		}
		if err != nil {
			return err
		}
		for c := range part {
			part[c] = block[c][:n]
		}
		if err := w.Write(part); err != nil {
			return err
		}
	}
}
