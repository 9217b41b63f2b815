package wavio

import (
	"bytes"
	"encoding/binary"
	"fmt"
	"slices"

	"github.com/go-audio/riff"
	"github.com/go-audio/wav"
)

// Format tags of the format chunk (Microsoft, mmreg.h).
const (
	tagPCM        = 0x0001
	tagFloat      = 0x0003
	tagALaw       = 0x0006
	tagMuLaw      = 0x0007
	tagExtensible = 0xFFFE
)

// Sample rates that are taken, Hz.
const (
	MinSampleRate = 8000
	MaxSampleRate = 192000
)

// encoding tells how the samples of a container are stored.
type encoding struct {
	Format
	frame  int // bytes in a frame
	width  int // bytes in a sample
	decode decoder
	order  binary.ByteOrder
	int16  bool   // samples are little-endian integers of 16 bits
	loose  bool   // samples of 24 bits have room for 32
	note   string // what is odd about the format chunk; "": nothing
}

// parseEncoding reads a format chunk.
func parseEncoding(body []byte, order binary.ByteOrder) (encoding, error) {
	if len(body) < 16 {
		return encoding{}, fmt.Errorf("its format chunk has %d bytes where 16 are needed: %s", len(body), convertIt)
	}
	if order == binary.BigEndian {
		body = littleEndianFormat(body)
	}
	d := wav.NewDecoder(bytes.NewReader(plainHeader(body)))
	if d.ReadInfo(); d.Err() != nil {
		return encoding{}, fmt.Errorf("its format chunk can't be read: %w", d.Err())
	}
	tag := d.WavAudioFormat
	if tag == tagExtensible && len(body) >= maxFormat {
		tag = binary.LittleEndian.Uint16(body[24:]) // the GUID begins with the tag
	}
	bits := int(d.BitDepth)
	e := encoding{Format: Format{SampleRate: int(d.SampleRate), Channels: int(d.NumChans), Float: tag == tagFloat, Frames: noLength}, order: order}
	if e.decode, e.width = decoderFor(tag, bits); e.decode == nil {
		return encoding{}, fmt.Errorf("holds %s: %s", encodingName(tag, bits), convertIt)
	}
	e.BitsPerSample = 8 * e.width
	e.frame = e.Channels * e.width
	e.int16 = tag == tagPCM && e.width == 2 && order == binary.LittleEndian
	switch {
	case e.Channels == 0:
		return encoding{}, fmt.Errorf("its header gives no channels: the header is damaged; copy the file again, or %s", convertIt)
	case d.SampleRate < MinSampleRate || d.SampleRate > MaxSampleRate:
		return encoding{}, fmt.Errorf("its sample rate is %d Hz, and %d to %d Hz can be read: resample it, with sox for instance", d.SampleRate, MinSampleRate, MaxSampleRate)
	}
	if err := e.checkAlign(int(binary.LittleEndian.Uint16(body[12:]))); err != nil {
		return encoding{}, err
	}
	if order == binary.BigEndian {
		e.decode = bigEndian(e.decode, e.width)
	}
	return e, nil
}

// littleEndianFormat returns a format chunk with the bytes of its fields in
// reverse order. The tag within the GUID is of 32 bits by rights, but sox writes
// 16, in their place.
func littleEndianFormat(body []byte) []byte {
	body = bytes.Clone(body)
	at := 0
	for _, width := range []int{2, 2, 4, 4, 2, 2, 2, 2, 4, 2, 2} {
		if at+width <= len(body) {
			slices.Reverse(body[at : at+width])
		}
		at += width
	}
	if len(body) == maxFormat && body[24] == 0 && body[25] == 0 {
		copy(body[24:26], body[26:28])
	}
	return body
}

// checkAlign compares the size of a frame with the one that the header gives.
// Other programs go by channels and bits where the two disagree, and so do we,
// except where samples of 24 bits are padded to a wider word (check24).
func (e *encoding) checkAlign(align int) error {
	switch {
	case align == e.frame:
		return nil
	case e.BitsPerSample == 24 && align == 4*e.Channels:
		e.width, e.frame, e.loose = 4, align, true
		return nil
	case e.frame > 1<<16-1:
		return fmt.Errorf("has frames of %d bytes, more than WAV can hold: the header is damaged; copy the file again, or %s", e.frame, convertIt)
	}
	e.note = fmt.Sprintf("the header gives %d bytes to a frame, but its channels and bits need %d; the latter was used", align, e.frame)
	return nil
}

// check24 takes samples of 24 bits to be the lower three bytes of words of 32
// bits. That is ALSA's S24_LE, which arecord writes; the upper byte repeats the
// sign, or is 0. There are words of floating point with the same header, too: what
// is unlike S24_LE is refused, because a wrong guess would turn every sample into
// noise.
func (e *encoding) check24(first []byte) error {
	for ; len(first) >= 4; first = first[4:] {
		if w := int32(e.order.Uint32(first)); w>>24 != 0 && w>>23 != -1 {
			return fmt.Errorf("has 24-bit samples in frames that have room for 32, and they aren't in the lower three bytes: %s", convertIt)
		}
	}
	e.note = "the header gives 4 bytes to a sample of 24 bits; the lower three were used"
	return nil
}

// plainHeader wraps the fields that every format chunk has into a container of
// their own. That is all the decoder is shown of a file: it allocates what a
// header asks for, seeks backwards, and knows no 64-bit sizes.
func plainHeader(body []byte) []byte {
	var b []byte
	b = append(b, riff.RiffID[:]...)
	b = binary.LittleEndian.AppendUint32(b, 28)
	b = append(b, riff.WavFormatID[:]...)
	b = append(b, riff.FmtID[:]...)
	b = binary.LittleEndian.AppendUint32(b, 16)
	return append(b, body[:16]...)
}

// encodingName names an encoding that can't be read.
func encodingName(tag uint16, bits int) string {
	names := map[uint16]string{
		0x0002: "ADPCM",
		0x0011: "IMA ADPCM",
		0x0031: "GSM 6.10",
		0x0050: "MPEG audio",
		0x0055: "MP3",
	}
	switch name, known := names[tag]; {
	case known:
		return name + " samples"
	case tag == tagPCM:
		return fmt.Sprintf("%d-bit samples", bits)
	case tag == tagFloat:
		return fmt.Sprintf("%d-bit floating-point samples", bits)
	}
	return fmt.Sprintf("samples in an encoding of number 0x%04X", tag)
}

// decodeLaw returns the decoder of a law of ITU-T G.711 (1988), of which linear
// gives the value of a code as a 16-bit sample.
func decodeLaw(linear func(code byte) int) decoder {
	var values [256]float32
	for code := range values {
		values[code] = float32(linear(byte(code))) * (1.0 / (1 << 15))
	}
	return decodeEach(func(s []byte) float32 { return values[s[0]] })
}

var (
	decodeALaw  = decodeLaw(aLaw)
	decodeMuLaw = decodeLaw(muLaw)
)

// aLaw is table 1 of G.711, on a scale of 4096 there: sign, segment e and
// interval m of a code, whose even bits are sent inverted, stand for the middle
// of the interval, 2m+1 in segment 0 and (2m+33)·2^(e−1) above.
func aLaw(code byte) int {
	code ^= 0x55
	v := 2*int(code&15) + 1
	if e := code >> 4 & 7; e > 0 {
		v = (v + 32) << (e - 1)
	}
	if code&0x80 == 0 {
		v = -v
	}
	return 8 * v
}

// muLaw is table 2 of G.711, on a scale of 8192 there: sign, segment e and
// interval m of a code, whose bits are all sent inverted, stand for
// (2m+33)·2^e − 33. The sign bit, once it is inverted back, means negative.
func muLaw(code byte) int {
	code = ^code
	v := (2*int(code&15)+33)<<(code>>4&7) - 33
	if code&0x80 != 0 {
		v = -v
	}
	return 4 * v
}
