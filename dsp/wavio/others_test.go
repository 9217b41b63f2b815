package wavio_test

import (
	"bytes"
	"encoding/binary"
	"fmt"
	"maps"
	"math"
	"os"
	"os/exec"
	"slices"
	"strconv"
	"strings"
	"testing"

	"rundown/dsp/wavio"
)

// need skips a test where another program isn't installed.
func need(t *testing.T, program string) {
	t.Helper()
	if _, err := exec.LookPath(program); err != nil {
		t.Skipf("skipped: %s is not installed", program)
	}
}

// decodeWith returns the samples that another program reads from files,
// interleaved. It starts ffmpeg once for all, because that takes long.
func decodeWith(program string, paths ...string) ([][]float32, error) {
	var all [][]float32
	args := []string{"-v", "error"}
	for i, path := range paths {
		if program == "sox" {
			out, err := exec.Command("sox", "-V1", path, "-t", "f32", "-").Output()
			if err != nil {
				return all, fmt.Errorf("%s: %w", path, err)
			}
			all = append(all, floats(out))
			continue
		}
		args = slices.Insert(args, 2+2*i, "-i", path)
		args = append(args, "-map", strconv.Itoa(i), "-f", "f32le", path+".raw")
	}
	if program == "sox" {
		return all, nil
	}
	if out, err := exec.Command("ffmpeg", args...).CombinedOutput(); err != nil {
		return nil, fmt.Errorf("%w: %s", err, out)
	}
	for _, path := range paths {
		out, err := os.ReadFile(path + ".raw")
		if err != nil {
			return nil, err
		}
		all = append(all, floats(out))
	}
	return all, nil
}

func floats(b []byte) []float32 {
	samples := make([]float32, len(b)/4)
	if _, err := binary.Decode(b, binary.LittleEndian, samples); err != nil {
		panic(err)
	}
	return samples
}

// TestAgainstOthers compares samples with those that sox and ffmpeg read.
func TestAgainstOthers(t *testing.T) {
	files := map[string][]byte{}
	for _, e := range encodings {
		files[e.name] = wave(list, e.format(48000, 2), chunk("data", e.samples(coarse(2, 400))), bext)
	}
	fine := make([]byte, 3*4000)
	for i := range fine {
		fine[i] = byte(i * i * 31 >> 3)
	}
	for _, e := range []stored{encodings[0], pcm16, encodings[4]} {
		files["fine "+e.name] = wave(e.extensible(48000, 2), chunk("data", fine))
	}
	for _, l := range laws {
		files[l.name] = l.recording(2, allCodes())
	}
	files["Wave64"] = sony(wave(list, pcm16.format(48000, 2), chunk("data", fine), bext))
	for _, e := range []stored{encodings[0], pcm16, encodings[4], encodings[5], encodings[7]} {
		files["big-endian "+e.name] = rifx(wave(list, e.format(48000, 2), chunk("data", e.samples(coarse(2, 400))), bext), e.width())
	}
	// sox goes by a file's ending to tell Wave64; ffmpeg takes big-endian samples of
	// 16 bits for little-endian ones, and knows no others.
	unknown := map[string][]string{
		"sox":    {"integer 12", "integer 20", "integer 64", "Wave64"},
		"ffmpeg": {"big-endian unsigned 8", "big-endian integer 16", "big-endian integer 24", "big-endian integer 32", "big-endian float 32"},
	}
	for _, program := range []string{"sox", "ffmpeg"} {
		t.Run(program, func(t *testing.T) {
			need(t, program)
			var names, paths []string
			for _, name := range slices.Sorted(maps.Keys(files)) {
				if !slices.Contains(unknown[program], name) {
					names, paths = append(names, name), append(paths, save(t, "night.wav", files[name]))
				}
			}
			theirs, err := decodeWith(program, paths...)
			if err != nil {
				t.Fatal(err)
			}
			for i, name := range names {
				got, err := readAll(open(t, file(files[name])))
				if err != nil {
					t.Fatal(err)
				}
				if !slices.Equal(interleave(got), theirs[i]) {
					t.Errorf("%s: %d samples, not our %d, or others", name, len(theirs[i]), 2*len(got[0]))
				}
			}
		})
	}
}

func interleave(channels [][]float32) []float32 {
	var all []float32
	for i := range channels[0] {
		for _, c := range channels {
			all = append(all, c[i])
		}
	}
	return all
}

// TestOthersReadOurs has sox and ffmpeg read what the writer wrote.
func TestOthersReadOurs(t *testing.T) {
	for _, program := range []string{"sox", "ffmpeg"} {
		t.Run(program, func(t *testing.T) {
			need(t, program)
			want := coarse(2, 500)
			var paths []string
			for _, e := range written {
				paths = append(paths, save(t, "night.wav", writeDeclared(t, e, want)), save(t, "night.wav", writeSeeking(t, e, want)))
			}
			theirs, err := decodeWith(program, paths...)
			if err != nil {
				t.Fatal(err)
			}
			for i, samples := range theirs {
				if !slices.Equal(samples, interleave(want)) {
					t.Errorf("recording %d: %d samples, not our %d, or others", i, len(samples), 2*len(want[0]))
				}
			}
		})
	}
}

// TestWhatOthersPlay damages headers. What sox or ffprobe takes, the reader
// has to take as well, apart from what it refuses on purpose: they are asked
// about the rest of what it refuses.
func TestWhatOthersPlay(t *testing.T) {
	if testing.Short() {
		t.Skip("skipped: starts other programs some hundred times")
	}
	purpose := []string{"sample rate is", "room for 32", "encoding of number", "ADPCM", "GSM", "MP3", "MPEG", "holds 0-bit samples", "holds 65535-bit samples", "-bit floating-point"}
	for _, program := range []string{"sox", "ffprobe"} {
		t.Run(program, func(t *testing.T) {
			need(t, program)
			if !plays(program, save(t, "night.wav", hostileHeaders()[0].b)) {
				t.Fatalf("%s plays not even what is whole", program)
			}
			asked := 0
			for name, b := range damaged(program == "ffprobe") {
				_, err := wavio.NewReader(file(b), "night.wav")
				if err == nil || slices.ContainsFunc(purpose, func(s string) bool { return strings.Contains(err.Error(), s) }) {
					continue
				}
				asked++
				if plays(program, save(t, "night.wav", b)) {
					t.Errorf("%s: %s plays it, but: %v", name, program, err)
				}
			}
			if asked == 0 {
				t.Error("nothing is refused but on purpose")
			}
		})
	}
}

// plays tells whether a program finds at least one sample.
func plays(program, path string) bool {
	if program == "sox" {
		samples, err := decodeWith("sox", path)
		return err == nil && len(samples[0]) > 0
	}
	out, err := exec.Command("ffprobe", "-v", "quiet", "-show_entries", "stream=codec_name:packet=size", "-of", "csv", path).Output()
	return err == nil && bytes.Contains(out, []byte("stream,pcm_")) && bytes.Contains(out, []byte("packet,"))
}

// damaged returns headers with every field at its extremes, or few of them:
// ffprobe takes its time.
func damaged(few bool) map[string][]byte {
	all := map[string][]byte{}
	for i, h := range hostileHeaders() {
		for _, f := range h.fields {
			for _, v := range []uint64{0, 1, 8, 0x7fff, 0x7fffffff, math.MaxUint64} {
				if few && (i > 0 || v != math.MaxUint64) {
					continue
				}
				b := bytes.Clone(h.b)
				put(b, f, v)
				all[fmt.Sprintf("%s, %s of %#x", h.name, f.name, v)] = b
			}
		}
	}
	for _, l := range layouts {
		if few {
			break
		}
		all[l.name] = l.build(pcm16.format(48000, 2), pcm16.samples(coarse(2, 100)))
	}
	for _, u := range unfinished {
		all[u.name] = u.build(pcm16.format(48000, 2), pcm16.samples(coarse(2, 2000)))
	}
	return all
}
