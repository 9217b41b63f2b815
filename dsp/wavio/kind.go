package wavio

import (
	"bytes"
	"errors"
	"fmt"
	"slices"
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
	{0, "\x1aE\xdf\xa3", "Matroska or WebM"},
	{4, "ftyp", "MPEG-4 audio"},
	{0, "PK\x03\x04", "a ZIP archive"},
	{0, "\x1f\x8b", "a gzip archive"},
}

// wave64Head begins a Wave64: the first twelve bytes of the GUID of its head.
const wave64Head = "riff\x2e\x91\xcf\x11\xa5\xd6\x28\xdb"

// kinds are the first four bytes of all that can be read: RIFX is a WAV whose
// numbers are big-endian, riff is Wave64.
var kinds = []string{"RIFF", "RIFX", "RF64", "BW64", "riff"}

// checkKind tells from the first twelve bytes what is wrong with the kind of a
// file, or nil if it is one that can be read.
func checkKind(head []byte) error {
	if len(head) == 0 {
		return errors.New("is empty: check that the recorder wrote to it, and copy it again")
	}
	for _, f := range foreign {
		if len(head) > f.offset && bytes.HasPrefix(head[f.offset:], []byte(f.magic)) {
			return fmt.Errorf("holds %s, not WAV: %s", f.kind, convertIt)
		}
	}
	switch {
	case !slices.Contains(kinds, string(head[:min(4, len(head))])):
		if printable(bytes.Map(spaceToBlank, head)) {
			return fmt.Errorf("holds text, not WAV: name the recording, or if it is one, %s", convertIt)
		}
		return fmt.Errorf("is not a WAV file: name the recording, or if it is one, %s", convertIt)
	case len(head) < 12:
		return errors.New("ends before its first sample: the file was cut short, so copy it again from the recorder")
	case string(head[8:12]) != "WAVE" && string(head) != wave64Head:
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
