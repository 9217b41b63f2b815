package wavio

import (
	"bytes"
	"encoding/binary"
	"io"
	"math"
	"testing"
)

var stereo24 = Format{SampleRate: 96000, Channels: 2, BitsPerSample: 24, Frames: noLength}

// TestHeaderSizes reads headers back, on both sides of 4 GiB.
func TestHeaderSizes(t *testing.T) {
	limit := int64(math.MaxUint32) - 72 // the container's own size has to fit, with room for ds64
	for _, samples := range []int64{0, 1, 6, limit - 1, limit, limit + 1, 1 << 32, 16_000_000_000, 1 << 49} {
		for _, reserve := range []bool{false, true} {
			h, err := header(stereo24, samples, reserve)
			if err != nil {
				t.Fatal(err)
			}
			long := samples+samples%2 >= limit
			want := plainSize
			if long || reserve {
				want += 8 + ds64Body
			}
			if len(h) != want || bytes.HasPrefix(h, []byte("RF64")) != long {
				t.Errorf("%d bytes of samples: header % x", samples, h)
			}
			s, err := newStream(bytes.NewReader(h))
			if err != nil {
				t.Fatal(err)
			}
			c, err := readContainer(s)
			if err != nil {
				t.Fatal(err)
			}
			if samples > 0 && c.length != samples {
				t.Errorf("%d bytes declared, want %d", c.length, samples)
			}
			if size := int64(want) - 8 + c.padded(samples); c.riffSize != size {
				t.Errorf("container of %d bytes, want %d", c.riffSize, size)
			}
			if c.start != int64(want) {
				t.Errorf("samples at %d, want %d", c.start, want)
			}
		}
	}
}

// TestHeaderUnfinished checks that a header without a length has none at all.
func TestHeaderUnfinished(t *testing.T) {
	h, err := header(stereo24, noLength, true)
	if err != nil {
		t.Fatal(err)
	}
	riff, data := binary.LittleEndian.Uint32(h[4:]), binary.LittleEndian.Uint32(h[len(h)-4:])
	if riff != math.MaxUint32 || data != math.MaxUint32 || !bytes.HasPrefix(h[riffHead:], []byte("JUNK")) {
		t.Errorf("header % x", h)
	}
}

// TestWriterBeyond4GiB pretends that a night has been written.
func TestWriterBeyond4GiB(t *testing.T) {
	out := &startOfFile{}
	w, err := NewWriter(out, stereo24)
	if err != nil {
		t.Fatal(err)
	}
	w.written = 1 << 31
	if err := w.Close(); err != nil {
		t.Fatal(err)
	}
	want, err := header(stereo24, 6<<31, true)
	if err != nil {
		t.Fatal(err)
	}
	if !bytes.Equal(out.kept, want) || binary.LittleEndian.Uint64(out.kept[28:]) != 6<<31 || binary.LittleEndian.Uint64(out.kept[36:]) != 1<<31 {
		t.Errorf("header % x\nwant % x", out.kept, want)
	}
}

// startOfFile keeps the last header that was written.
type startOfFile struct{ kept []byte }

func (s *startOfFile) Write(b []byte) (int, error) {
	s.kept = bytes.Clone(b)
	return len(b), nil
}

func (s *startOfFile) Seek(offset int64, whence int) (int64, error) {
	if whence == io.SeekStart && offset != 0 {
		return 0, io.ErrUnexpectedEOF
	}
	return 0, nil
}
