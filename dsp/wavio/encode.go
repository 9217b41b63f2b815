package wavio

import (
	"encoding/binary"
	"math"
)

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
