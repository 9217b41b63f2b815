package wavio_test

import (
	"os/exec"
	"path/filepath"
	"strings"
	"testing"

	"rundown/dsp/wavio"
)

// TestMadeByOthers has other programs write every encoding that they know. What
// can't be read is refused in one line that says what it is and what to do.
func TestMadeByOthers(t *testing.T) {
	if testing.Short() {
		t.Skip("skipped: starts other programs some thirty times")
	}
	source := save(t, "night.wav", wave(pcm16.format(16000, 1), chunk("data", pcm16.samples(coarse(1, 4000)))))
	for program, made := range map[string][]struct {
		name    string
		args    []string
		refused string // what the message names; empty where it can be read
	}{
		"ffmpeg": {
			{"8 bit", []string{"-c:a", "pcm_u8"}, ""},
			{"16 bit", []string{"-c:a", "pcm_s16le"}, ""},
			{"24 bit", []string{"-c:a", "pcm_s24le"}, ""},
			{"32 bit", []string{"-c:a", "pcm_s32le"}, ""},
			{"64 bit", []string{"-c:a", "pcm_s64le"}, ""},
			{"float", []string{"-c:a", "pcm_f32le"}, ""},
			{"double", []string{"-c:a", "pcm_f64le"}, ""},
			{"RF64", []string{"-c:a", "pcm_s16le", "-rf64", "always"}, ""},
			{"six channels, extensible", []string{"-c:a", "pcm_s24le", "-ac", "6"}, ""},
			{"broadcast chunk", []string{"-c:a", "pcm_s16le", "-write_bext", "1", "-metadata", "description=night"}, ""},
			{"A-law", []string{"-c:a", "pcm_alaw"}, ""},
			{"mu-law", []string{"-c:a", "pcm_mulaw"}, ""},
			{"IMA ADPCM", []string{"-c:a", "adpcm_ima_wav"}, "IMA ADPCM"},
			{"ADPCM", []string{"-c:a", "adpcm_ms"}, "ADPCM"},
			{"MPEG", []string{"-c:a", "mp2"}, "MPEG"},
			{"FLAC inside", []string{"-c:a", "flac"}, "0xF1AC"},
			{"Wave64", []string{"-c:a", "pcm_s16le", "-f", "w64"}, ""},
			{"Wave64, 24 bit", []string{"-c:a", "pcm_s24le", "-f", "w64"}, ""},
			{"Wave64, A-law", []string{"-c:a", "pcm_alaw", "-f", "w64"}, ""},
		},
		"sox": {
			{"8 bit", []string{"-e", "unsigned-integer", "-b", "8"}, ""},
			{"16 bit", []string{"-e", "signed-integer", "-b", "16"}, ""},
			{"24 bit, extensible", []string{"-e", "signed-integer", "-b", "24"}, ""},
			{"32 bit", []string{"-e", "signed-integer", "-b", "32"}, ""},
			{"float", []string{"-e", "floating-point", "-b", "32"}, ""},
			{"double", []string{"-e", "floating-point", "-b", "64"}, ""},
			{"plain format chunk", []string{"-b", "24", "-t", "wavpcm"}, ""},
			{"A-law", []string{"-e", "a-law"}, ""},
			{"mu-law", []string{"-e", "u-law"}, ""},
			{"GSM", []string{"-e", "gsm-full-rate"}, "GSM"},
			{"ADPCM", []string{"-e", "ms-adpcm"}, "ADPCM"},
			{"big-endian", []string{"-B"}, ""},
			{"big-endian, 24 bit, extensible", []string{"-B", "-b", "24"}, ""},
			{"big-endian, float", []string{"-B", "-e", "floating-point"}, ""},
			{"big-endian, A-law", []string{"-B", "-e", "a-law"}, ""},
			{"Wave64", []string{"-t", "w64"}, ""},
			{"4 kHz", []string{"-r", "4000"}, "4000 Hz"},
			{"384 kHz", []string{"-r", "384000"}, "384000 Hz"},
		},
	} {
		t.Run(program, func(t *testing.T) {
			need(t, program)
			for _, m := range made {
				path := filepath.Join(t.TempDir(), "made.wav")
				args := append([]string{source}, append(m.args, path)...)
				if program == "ffmpeg" {
					args = append([]string{"-v", "error", "-i"}, args...)
				} else {
					args = append([]string{"-V1"}, args...)
				}
				if out, err := exec.Command(program, args...).CombinedOutput(); err != nil {
					t.Logf("%s: %s was built without it: %s", m.name, program, out)
					continue
				}
				checkMade(t, m.name, path, m.refused)
			}
		})
	}
}

func checkMade(t *testing.T, name, path, refused string) {
	t.Helper()
	src, err := wavio.Open(path)
	switch {
	case refused == "" && err != nil:
		t.Errorf("%s: %v", name, err)
	case refused == "":
		if got, err := readAll(src); err != nil || len(got[0]) != 4000 || len(src.Problems()) > 0 {
			t.Errorf("%s: %d frames, %v, problems %q", name, len(got[0]), err, src.Problems())
		}
		src.Close()
	case err == nil:
		src.Close()
		t.Errorf("%s can be read", name)
	default:
		if text := err.Error(); strings.Contains(text, "\n") || !strings.HasPrefix(text, path+": ") || !strings.Contains(text, refused) || !strings.Contains(text, "convert it") && !strings.Contains(text, "resample it") {
			t.Errorf("%s: %q", name, text)
		}
	}
}
