package wavio

import (
	"bytes"
	"errors"
	"fmt"
)

// convertIt is the remedy for every file that isn't a WAV we can read.
const convertIt = "convert it to 16- or 24-bit PCM WAV, with ffmpeg or sox for instance"

// foreign lists how other kinds of file begin.
var foreign = []struct {
	offset int
	magic  string
	kind   string
}{
	{0, "fLaC", "FLAC"},
	{0, "OggS", "Ogg"},
	{0, "ID3", "MP3"},
	{0, "\xff\xfb", "MP3"},
	{0, "\xff\xf3", "MP3"},
	{0, "\xff\xf2", "MP3"},
	{0, "FORM", "AIFF"},
	{0, ".snd", "Sun audio"},
	{0, "caff", "Core Audio"},
	{0, "wvpk", "WavPack"},
	{0, "MAC ", "Monkey's Audio"},
	{0, "riff", "Wave64"},
	{0, "RIFX", "big-endian WAV"},
	{0, "\x1aE\xdf\xa3", "Matroska or WebM"},
	{4, "ftyp", "MPEG-4 audio"},
	{0, "PK\x03\x04", "a ZIP archive"},
	{0, "\x1f\x8b", "a gzip archive"},
}

// checkKind tells from the first twelve bytes what is wrong with the kind of a
// file, or nil if it is a WAV, RF64 or BW64.
func checkKind(head []byte) error {
	if len(head) == 0 {
		return errors.New("is empty: check that the recorder wrote to it, and copy it again")
	}
	for _, f := range foreign {
		if len(head) > f.offset && bytes.HasPrefix(head[f.offset:], []byte(f.magic)) {
			return fmt.Errorf("holds %s, not WAV: %s", f.kind, convertIt)
		}
	}
	id := head[:min(4, len(head))]
	switch {
	case !bytes.Equal(id, []byte("RIFF")) && !bytes.Equal(id, []byte("RF64")) && !bytes.Equal(id, []byte("BW64")):
		if printable(bytes.Map(spaceToBlank, head)) {
			return fmt.Errorf("holds text, not WAV: name the recording, or if it is one, %s", convertIt)
		}
		return fmt.Errorf("is not a WAV file: name the recording, or if it is one, %s", convertIt)
	case len(head) < 12:
		return errors.New("ends before its first sample: the file was cut short, so copy it again from the recorder")
	case !bytes.Equal(head[8:12], []byte("WAVE")):
		return fmt.Errorf("is a RIFF file but holds no WAV: %s", convertIt)
	}
	return nil
}

// spaceToBlank makes line ends and tabs printable.
func spaceToBlank(r rune) rune {
	if r == '\n' || r == '\r' || r == '\t' {
		return ' '
	}
	return r
}
