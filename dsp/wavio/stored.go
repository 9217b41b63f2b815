package wavio

import (
	"encoding/binary"
	"fmt"
	"io"
)

// Stored is a stretch of one channel as its recording stores it. Samples become
// numbers when they are asked for: of most of a night they never are.
type Stored struct {
	frames      int
	data        []byte // from the channel's first sample on; later ones follow stride bytes apart
	stride      int
	decode      decoder
	int16       bool        // samples are little-endian integers of 16 bits
	floats      []float32   // the samples, where they were decoded as they were read; data is then nil
	buffer      []byte      // what data is part of, to be used again
	decoded     []float32   // what floats is part of, to be used again
	dst         [][]float32 // of Source.Read
	early, late []float32   // scratch of Differences
}

// maxStored bounds the memory of a Stored, in bytes: of more channels than any
// recorder has, or than a broken header gives, only the one is kept.
const maxStored = 4 << 20

// Floats returns the stretch of the given samples, which stay the caller's and
// must not change while it is in use.
func Floats(x []float32) *Stored { return &Stored{frames: len(x), floats: x} }

// storer is a Source that hands out samples as they are stored. store is Read
// for one channel into s, but may return fewer frames, or none, before the end.
type storer interface {
	store(s *Stored, channel, frames int) (int, error)
}

// Store reads the next frames of a channel of src, counted from 0, into s, whose
// memory it uses again. It returns what Source.Read would. It panics if src has no
// such channel, or if frames isn't positive.
func Store(src Source, s *Stored, channel, frames int) (int, error) {
	channels := src.Format().Channels
	if channel < 0 || channel >= channels || frames <= 0 {
		panic(fmt.Sprintf("wavio: Store of %d frames of channel %d of %d", frames, channel, channels))
	}
	s.frames, s.data, s.floats = 0, nil, nil
	if r, ok := src.(storer); ok {
		n, err := r.store(s, channel, frames)
		if n == frames || err != nil {
			return n, err
		}
	}
	// What was stored in one way may go on in another.
	have := s.frames
	s.decoded = resize(s.decoded, frames)
	x := s.decoded
	s.Samples(x[:have], 0)
	s.dst = resize(s.dst, channels)
	clear(s.dst)
	for have < frames {
		s.dst[channel] = x[have:]
		n, err := src.Read(s.dst)
		have += n
		if err != nil {
			if have == 0 {
				return 0, err
			}
			break // a Source says it again
		}
	}
	s.frames, s.data, s.floats = have, nil, x[:have]
	return have, nil
}

// resize returns a slice of length n, in the memory of s where it has room. What
// it holds is not kept.
func resize[T any](s []T, n int) []T {
	if cap(s) < n {
		return make([]T, n)
	}
	return s[:n]
}

// store implements storer.
func (r *Reader) store(s *Stored, channel, frames int) (int, error) {
	size := r.encoding.frame
	if r.encoding.Float || frames > maxStored/size {
		return 0, nil // of floating point, each sample is to be looked at: it may be no number
	}
	s.buffer = resize(s.buffer, frames*size)
	n := 0
	for n < frames {
		if r.err == nil && r.left >= int64((frames-n)*size) {
			n += r.fill(s.buffer[n*size:])
			continue
		}
		k := r.ready(frames - n)
		if k == 0 {
			break
		}
		r.fill(s.buffer[n*size : (n+k)*size])
		n += k
	}
	if n == 0 {
		return 0, r.err
	}
	s.frames, s.data, s.stride = n, s.buffer[channel*r.encoding.width:n*size], size
	s.decode, s.int16 = r.encoding.decode, r.encoding.int16
	return n, nil
}

// store implements storer.
func (p *Parts) store(s *Stored, channel, frames int) (int, error) {
	if p.err != nil {
		return 0, p.err
	}
	now, err := p.open()
	if err != nil {
		p.err = err
		return 0, err
	}
	n, err := now.store(s, channel, frames)
	if err == io.EOF {
		p.next()
		return 0, p.err
	}
	p.err = err
	return n, err
}

// Len is the number of frames.
func (s *Stored) Len() int { return s.frames }

// Size is the number of bytes that they take.
func (s *Stored) Size() int { return len(s.data) + 4*len(s.floats) }

// Samples decodes as many frames as dst holds, from frame from on. It panics if
// fewer follow.
func (s *Stored) Samples(dst []float32, from int) {
	s.Every(dst, from, 1)
}

// Every is Samples for every step-th frame from frame from on.
func (s *Stored) Every(dst []float32, from, step int) {
	if from < 0 || step < 1 || len(dst) > 0 && from+(len(dst)-1)*step >= s.frames {
		panic(fmt.Sprintf("wavio: %d samples from %d on at steps of %d, of %d", len(dst), from, step, s.frames))
	}
	s.every(dst, from, step)
}

func (s *Stored) every(dst []float32, from, step int) {
	switch {
	case len(dst) == 0:
	case s.data != nil:
		s.decode(dst, s.data[from*s.stride:], step*s.stride)
	case step == 1:
		copy(dst, s.floats[from:from+len(dst)])
	default:
		for i := range dst {
			dst[i] = s.floats[from+i*step]
		}
	}
}

// Differences appends to dst, for each whole block of per frames, the mean of
//
//	(x[i+lag] − x[i])²
//
// over every step-th frame i of it, as far as frame i+lag is in the stretch, and
// returns it; step divides per. That is a comb filter, of gain 2 at half the
// sample rate over lag and at odd multiples, heard at a glance: it looks at few
// samples, and leaves nothing of hum and rumble.
//
// It is the same to the last bit in any encoding of the same samples.
func (s *Stored) Differences(dst []float32, lag, step, per int) []float32 {
	if lag < 0 || step < 1 || per < 1 || per%step != 0 {
		panic(fmt.Sprintf("wavio: Differences of lag %d at steps of %d in blocks of %d", lag, step, per))
	}
	plain := s.data != nil && s.int16
	if !plain {
		n := max(0, (s.frames-lag+step-1)/step)
		s.early, s.late = resize(s.early, n), resize(s.late, n)
		s.every(s.early, 0, step)
		s.every(s.late, lag, step)
	}
	for from := 0; from+per <= s.frames; from += per {
		to := min(from+per, s.frames-lag)
		n := (to - from + step - 1) / step
		var sum float64
		switch {
		case to <= from:
			n = 1
		case plain:
			at, late := from*s.stride, (from+lag)*s.stride
			sum = squares16(s.data[at:][:(to-1-from)*s.stride+2], s.data[late:], step*s.stride)
		default:
			sum = squares(s.early[from/step:][:n], s.late[from/step:])
		}
		dst = append(dst, float32(sum/float64(n)))
	}
	return dst
}

// squares returns the sum of the squares of b[i] − a[i]. Those of 16-bit samples
// and their sum are exact.
func squares(a, b []float32) float64 {
	var sum float64
	b = b[:len(a)]
	for i, v := range a {
		d := float64(b[i]) - float64(v)
		sum += d * d
	}
	return sum
}

// squares16 is squares for samples of 16 bits that lie step bytes apart, which
// need not be decoded for it.
func squares16(a, b []byte, step int) float64 {
	var sum int64
	b = b[:len(a)]
	for j := 0; j < len(a)-1; j += step {
		d := int64(int16(binary.LittleEndian.Uint16(b[j:]))) - int64(int16(binary.LittleEndian.Uint16(a[j:])))
		sum += d * d
	}
	return float64(sum) * (1.0 / (1 << 30))
}
