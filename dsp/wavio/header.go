package wavio

import (
	"encoding/binary"
	"fmt"
	"io"
	"slices"

	"github.com/go-audio/wav"
)

const (
	// plainSize is the length of the header of a plain WAV, in bytes: the RIFF
	// head of 12, a format chunk of 24, and the head of the data chunk, 8.
	plainSize = 44
	riffHead  = 12

	// ds64Body is the length of the body of a ds64 chunk without a table of
	// further sizes, in bytes.
	ds64Body = 28
)

// header returns the header for a number of bytes of samples, or for noLength.
// Past 4 GiB it is that of RF64. reserve keeps the room that a ds64 chunk would
// take, in a JUNK chunk, so that one header can be exchanged for another when
// the samples have been written (EBU Tech 3306).
func header(f Format, samples int64, reserve bool) ([]byte, error) {
	plain, err := encodeHeader(f)
	if err != nil {
		return nil, err
	}
	size := plainSize - 8 + max(samples, 0)
	size += size % 2 // the pad byte
	room := int64(8 + ds64Body)
	long := size+room >= sizeIn64
	if long || reserve {
		size += room
	}
	riffField, dataField := uint32(size), uint32(samples)
	if long || samples == noLength {
		riffField, dataField = sizeIn64, sizeIn64
	}
	binary.LittleEndian.PutUint32(plain[4:], riffField)
	binary.LittleEndian.PutUint32(plain[plainSize-4:], dataField)
	var between []byte
	switch {
	case long:
		copy(plain, "RF64")
		between = chunk64(size, samples, samples/int64(f.Channels*f.BitsPerSample/8))
	case reserve:
		between = append([]byte("JUNK\x1c\x00\x00\x00"), make([]byte, ds64Body)...)
	}
	return slices.Concat(plain[:riffHead], between, plain[riffHead:]), nil
}

// chunk64 returns a ds64 chunk without a table of further sizes.
func chunk64(riff, samples, frames int64) []byte {
	b := []byte("ds64\x1c\x00\x00\x00")
	b = binary.LittleEndian.AppendUint64(b, uint64(riff))
	b = binary.LittleEndian.AppendUint64(b, uint64(samples))
	b = binary.LittleEndian.AppendUint64(b, uint64(frames))
	return append(b, 0, 0, 0, 0)
}

// encodeHeader returns the header of a plain WAV, its sizes still to be filled
// in. It is of plainSize bytes.
func encodeHeader(f Format) ([]byte, error) {
	tag := tagPCM
	if f.Float {
		tag = tagFloat
	}
	b := &headerBuffer{}
	// The encoder makes room for a minute of samples at the rate it is given,
	// and none go through it.
	e := wav.NewEncoder(b, 1, f.BitsPerSample, f.Channels, tag)
	e.SampleRate = f.SampleRate
	if err := e.WriteFrame([]byte{}); err != nil {
		return nil, err
	}
	if len(*b) != plainSize {
		return nil, fmt.Errorf("wavio: the header has %d bytes, not %d", len(*b), plainSize)
	}
	return *b, nil
}

// headerBuffer is written from start to end; the encoder wants a seeker.
type headerBuffer []byte

func (b *headerBuffer) Write(p []byte) (int, error) {
	*b = append(*b, p...)
	return len(p), nil
}

func (b *headerBuffer) Seek(int64, int) (int64, error) { return 0, io.ErrNoProgress }
