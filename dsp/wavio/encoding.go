package wavio

import (
	"bytes"
	"encoding/binary"
	"fmt"

	"github.com/go-audio/riff"
	"github.com/go-audio/wav"
)

// Format tags of the format chunk (Microsoft, mmreg.h).
const (
	tagPCM        = 0x0001
	tagFloat      = 0x0003
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
	note   string // what is odd about the format chunk; "": nothing
}

// parseEncoding reads a format chunk.
func parseEncoding(body []byte) (encoding, error) {
	if len(body) < 16 {
		return encoding{}, fmt.Errorf("its format chunk has %d bytes where 16 are needed: %s", len(body), convertIt)
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
	e := encoding{Format: Format{SampleRate: int(d.SampleRate), Channels: int(d.NumChans), Float: tag == tagFloat, Frames: noLength}}
	if e.decode, e.width = decoderFor(tag, bits); e.decode == nil {
		return encoding{}, fmt.Errorf("holds %s: %s", encodingName(tag, bits), convertIt)
	}
	e.BitsPerSample = 8 * e.width
	e.frame = e.Channels * e.width
	switch {
	case e.Channels == 0:
		return encoding{}, fmt.Errorf("its header gives no channels: the header is damaged; copy the file again, or %s", convertIt)
	case d.SampleRate < MinSampleRate || d.SampleRate > MaxSampleRate:
		return encoding{}, fmt.Errorf("its sample rate is %d Hz, and %d to %d Hz can be read: resample it, with sox for instance", d.SampleRate, MinSampleRate, MaxSampleRate)
	}
	return e, e.checkAlign(int(binary.LittleEndian.Uint16(body[12:])))
}

// checkAlign compares the size of a frame with the one that the header gives.
// Other programs go by channels and bits where the two disagree, and so do we,
// except where samples may be padded to a wider word: there, a wrong guess
// turns every sample into noise.
func (e *encoding) checkAlign(align int) error {
	switch {
	case align == e.frame:
		return nil
	case e.BitsPerSample == 24 && align == 4*e.Channels:
		return fmt.Errorf("has 24-bit samples in frames that have room for 32: %s", convertIt)
	case e.frame > 1<<16-1:
		return fmt.Errorf("has frames of %d bytes, more than WAV can hold: the header is damaged; copy the file again, or %s", e.frame, convertIt)
	}
	e.note = fmt.Sprintf("the header gives %d bytes to a frame, but its channels and bits need %d; the latter was used", align, e.frame)
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
		0x0006: "A-law",
		0x0007: "mu-law",
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
