package wavio_test

import (
	"bufio"
	"bytes"
	"errors"
	"fmt"
	"io"
	"math"
	"strings"
	"testing"
	"testing/iotest"

	"rundown/dsp/wavio"
	"rundown/dsp/wavio/wavtest"
)

// layout arranges the chunks of a recording.
type layout struct {
	name     string
	fileOnly bool // needs a seek
	build    func(format, samples []byte) []byte
}

var (
	list  = chunk("LIST", []byte("INFOISFT\x05\x00\x00\x00maker\x00"))
	bext  = chunk("bext", bytes.Repeat([]byte{1}, 603))
	large = chunk("JUNK", make([]byte, 400_000)) // longer than any buffer
)

// layouts are sound: all give every sample, and no problem.
var layouts = []layout{
	{"plain", false, func(f, s []byte) []byte { return wave(f, chunk("data", s)) }},
	{"chunks before", false, func(f, s []byte) []byte { return wave(bext, list, f, large, chunk("data", s)) }},
	{"chunks after", false, func(f, s []byte) []byte { return wave(f, chunk("data", s), bext, list) }},
	{"large chunk after", false, func(f, s []byte) []byte { return wave(f, chunk("data", s), large, list) }},
	{"no pad at the end", false, func(f, s []byte) []byte { return wave(f, chunk("data", s), bext[:len(bext)-1]) }},
	{"appended later", false, func(f, s []byte) []byte { return le(wave(f, chunk("data", s)), list, bext[:len(bext)-1]) }},
	{"no pad between", false, func(f, s []byte) []byte { return wave(f, sized(uint32(len(s)), s), list) }},
	{"long format", false, func(f, s []byte) []byte {
		return wave(chunk("fmt ", append(bytes.Clone(f[8:]), make([]byte, 300_000)...)), chunk("data", s))
	}},
	{"odd chunk before", false, func(f, s []byte) []byte { return wave(chunk("odd ", []byte("123")), f, chunk("data", s)) }},
	{"format last", true, func(f, s []byte) []byte { return wave(list, chunk("data", s), large, f) }},
	{"second data chunk", false, func(f, s []byte) []byte { return wave(f, chunk("data", s), chunk("data", s)) }},
	{"RF64", false, func(f, s []byte) []byte { return wave64("RF64", uint64(len(s)), f, sized(math.MaxUint32, s)) }},
	{"BW64", false, func(f, s []byte) []byte { return wave64("BW64", uint64(len(s)), list, f, sized(math.MaxUint32, s)) }},
	{"RF64 with 32-bit size", false, func(f, s []byte) []byte { return wave64("RF64", 1<<40, f, chunk("data", s)) }},
	{"RF64 with chunks after", false, func(f, s []byte) []byte {
		return wave64("RF64", uint64(len(s)), f, sized(math.MaxUint32, s), make([]byte, len(s)%2), large)
	}},
}

func TestReaderFormats(t *testing.T) {
	for _, e := range encodings {
		for _, channels := range []int{1, 2, 3} {
			want := coarse(channels, 301)
			samples := e.samples(want)
			for _, l := range layouts {
				for _, format := range [][]byte{e.format(48000, channels), e.extensible(48000, channels)} {
					b := l.build(format, samples)
					t.Run(fmt.Sprintf("%s/%d/%s/%d", e.name, channels, l.name, len(format)), func(t *testing.T) {
						checkSound(t, file(b), e, want)
						if !l.fileOnly {
							checkSound(t, stream(b), e, want)
						}
					})
				}
			}
		}
	}
}

func checkSound(t *testing.T, r io.Reader, e stored, want [][]float32) {
	t.Helper()
	rd := open(t, r)
	f := wavio.Format{SampleRate: 48000, Channels: len(want), BitsPerSample: 8 * e.width(), Float: e.tag == 3, Frames: int64(len(want[0]))}
	if rd.Format() != f {
		t.Errorf("format %+v, want %+v", rd.Format(), f)
	}
	expect(t, rd, want)
	if p := rd.Problems(); len(p) > 0 {
		t.Errorf("problems %q in a sound recording", p)
	}
}

func TestReaderContract(t *testing.T) {
	want := coarse(2, 5000)
	for _, e := range encodings {
		sound := wave(e.format(44100, 2), chunk("data", e.samples(want)))
		wavtest.CheckSource(t, func() wavio.Source { return open(t, file(sound)) })
		wavtest.CheckSource(t, func() wavio.Source { return open(t, stream(sound[:len(sound)-1])) })
	}
	broken := iotest.ErrReader(errors.New("unplugged"))
	sound := wave(pcm16.format(44100, 2), chunk("data", pcm16.samples(want)))
	wavtest.CheckSource(t, func() wavio.Source { return open(t, io.MultiReader(stream(sound[:9999]), broken)) })
}

func TestReaderManyChannels(t *testing.T) {
	for _, channels := range []int{18, 300, 32767} {
		want := coarse(channels, 5)
		b := wave(pcm16.format(48000, channels), chunk("data", pcm16.samples(want)))
		expect(t, open(t, stream(b)), want)
	}
}

func TestReaderRates(t *testing.T) {
	for _, rate := range []int{8000, 11025, 16000, 22050, 44100, 48000, 88200, 96000, 176400, 192000} {
		b := wave(pcm16.format(rate, 1), chunk("data", make([]byte, 8)))
		if got := open(t, file(b)).Format().SampleRate; got != rate {
			t.Errorf("rate %d Hz, want %d", got, rate)
		}
	}
}

// TestReaderScale checks full scale and the smallest step of every encoding.
func TestReaderScale(t *testing.T) {
	nan, inf := math.NaN(), math.Inf(1)
	tests := []struct {
		name      string
		encoding  stored
		stored    []byte
		want      []float32
		nonFinite string
	}{
		{"8", encodings[0], le(byte(0), byte(127), byte(128), byte(129), byte(255)), []float32{-1, -1.0 / 128, 0, 1.0 / 128, 127.0 / 128}, ""},
		{"16", pcm16, le([]int16{-32768, -1, 0, 1, 32767}), []float32{-1, -1.0 / 32768, 0, 1.0 / 32768, 32767.0 / 32768}, ""},
		{"24", encodings[4], le("\x00\x00\x80", "\xff\xff\xff", "\x00\x00\x00", "\x01\x00\x00", "\xff\xff\x7f"),
			[]float32{-1, -1.0 / (1 << 23), 0, 1.0 / (1 << 23), 8388607.0 / (1 << 23)}, ""},
		{"32", encodings[5], le([]int32{math.MinInt32, -1, 0, 1, math.MaxInt32, 1<<24 + 1, 1<<24 + 3}),
			[]float32{-1, -1.0 / (1 << 31), 0, 1.0 / (1 << 31), 1, 1.0 / (1 << 7), (1<<24 + 4) / float32(1<<31)}, ""},
		{"64", encodings[6], le([]int64{math.MinInt64, 1, math.MaxInt64}), []float32{-1, 1.0 / (1 << 63), 1}, ""},
		{"float", encodings[7], le([]float32{-1.5, 1, float32(nan), float32(inf), float32(-inf), math.MaxFloat32, 1e-45}),
			[]float32{-1.5, 1, 0, 0, 0, math.MaxFloat32, 1e-45}, "not finite numbers were taken as 0 (3 in all)"},
		{"double", encodings[8], le([]float64{-1.5, nan, inf, 1e300, math.MaxFloat32, 1 + 1e-9}),
			[]float32{-1.5, 0, 0, 0, math.MaxFloat32, 1}, "not finite numbers were taken as 0 (3 in all)"},
	}
	for _, test := range tests {
		t.Run(test.name, func(t *testing.T) {
			rd := open(t, file(wave(test.encoding.format(8000, 1), chunk("data", test.stored))))
			expect(t, rd, [][]float32{test.want})
			problems := strings.Join(rd.Problems(), " ")
			if !strings.Contains(problems, test.nonFinite) || (test.nonFinite == "") != (problems == "") {
				t.Errorf("problems %q, want %q", problems, test.nonFinite)
			}
		})
	}
}

// TestReaderValidBits reads 20-bit samples at the upper end of 32-bit words.
func TestReaderValidBits(t *testing.T) {
	format := encodings[5].extensible(96000, 1)
	format[8+18] = 20
	want := coarse(1, 100)
	expect(t, open(t, file(wave(format, chunk("data", encodings[5].samples(want))))), want)
}

// unfinished lists headers that don't fit what follows.
var unfinished = []struct {
	name    string
	build   func(format, samples []byte) []byte
	problem string // of 2000 frames in 16-bit stereo; "": none
	frames  int
}{
	{"size 0", func(f, s []byte) []byte { return le("RIFF", uint32(0), "WAVE", f, sized(0, s)) },
		"In night.wav, the header gives no length, as when a recorder is stopped or writes to a pipe; all that follows was read, 2000 frames (0.2 s).", 2000},
	{"size 0 in a whole container", func(f, s []byte) []byte { return wave(f, sized(0, s)) }, "gives no length", 2000},
	{"all ones", func(f, s []byte) []byte { return le("RIFF", uint32(1<<32-1), "WAVE", f, sized(1<<32-1, s)) }, "gives no length", 2000},
	{"ds64 of zeros", func(f, s []byte) []byte { return wave64("RF64", 0, f, sized(1<<32-1, s)) }, "gives no length", 2000},
	{"ds64 of 16 EiB", func(f, s []byte) []byte { return wave64("RF64", math.MaxUint64, f, sized(1<<32-1, s)) }, "gives no length", 2000},
	{"ds64 of 1 TiB", func(f, s []byte) []byte { return wave64("RF64", 1<<40, f, sized(1<<32-1, s)) }, "declares 274877906944 frames", 2000},
	{"RF64 without ds64", func(f, s []byte) []byte { return le("RF64", uint32(1<<32-1), "WAVE", f, sized(1<<32-1, s)) }, "gives no length", 2000},
	{"short ds64", func(f, s []byte) []byte {
		return le("RF64", uint32(1<<32-1), "WAVE", chunk("ds64", make([]byte, 9)), f, sized(1<<32-1, s))
	}, "gives no length", 2000},
	{"2 GiB", func(f, s []byte) []byte { return wave(f, sized(0x7ffff000, s)) },
		"In night.wav, the header declares 536869888 frames (67108.7 s), and only 2000 frames (0.2 s) are there; all of them were read.", 2000},
	{"cut in a frame", func(f, s []byte) []byte { return wave(f, chunk("data", s))[:len(f)+20+8000-3] },
		"In night.wav, the last frame is cut and was left out (1 of 4 bytes).", 1999},
	{"declared in mid-frame", func(f, s []byte) []byte { return wave(f, chunk("data", s[:7999]), list) }, "last frame is cut", 1999},
	{"empty", func(f, s []byte) []byte { return wave(f, chunk("data", nil)) }, "In night.wav, there are no samples.", 0},
	{"empty, chunks after", func(f, s []byte) []byte { return wave(f, chunk("data", nil), list, bext) }, "there are no samples", 0},
	{"rubbish after", func(f, s []byte) []byte { return le(wave(f, chunk("data", s)), []byte{1, 2, 3, 4, 5, 6, 7, 8, 9}) },
		"In night.wav, what follows the samples belongs to no chunk and was left out (9 bytes).", 2000},
	{"cut chunk after", func(f, s []byte) []byte { b := wave(f, chunk("data", s), bext); return b[:len(b)-300] }, "", 2000},
	{"another recording after", func(f, s []byte) []byte { b := wave(f, chunk("data", s)); return le(b, b) },
		"another recording follows", 2000},
	{"wrong frame size", func(f, s []byte) []byte {
		f = bytes.Clone(f)
		f[8+12] = 3
		return wave(f, chunk("data", s))
	}, "In night.wav, the header gives 3 bytes to a frame, but its channels and bits need 4; the latter was used.", 2000},
}

func TestReaderUnfinished(t *testing.T) {
	samples := coarse(2, 2000)
	for _, test := range unfinished {
		b := test.build(pcm16.format(8000, 2), pcm16.samples(samples))
		want := [][]float32{samples[0][:test.frames], samples[1][:test.frames]}
		for kind, opened := range map[string]func([]byte) io.Reader{"file": file, "stream": stream} {
			t.Run(test.name+"/"+kind, func(t *testing.T) {
				wavtest.CheckSource(t, func() wavio.Source { return open(t, opened(b)) })
				rd := open(t, opened(b))
				expect(t, rd, want)
				problems := strings.Join(rd.Problems(), " ")
				if !strings.Contains(problems, test.problem) || (test.problem == "") != (problems == "") {
					t.Errorf("problems %q, want %q", problems, test.problem)
				}
				if f := rd.Format().Frames; kind == "file" && test.frames > 0 && f != int64(test.frames) {
					t.Errorf("%d frames announced, want %d", f, test.frames)
				}
			})
		}
	}
}

// TestReaderGoesOn reads samples past a length that a program declared when it
// couldn't know better, or that wrapped round at 4 GiB.
func TestReaderGoesOn(t *testing.T) {
	want := coarse(3, 50_000) // frames of 9 bytes: the declared end is in one
	e := encodings[4]
	f, s := e.format(48000, 3), e.samples(want)
	for declared := range uint32(12) {
		b := le("RIFF", uint32(40_036)+declared, "WAVE", f, sized(40_000+declared, s))
		rd := open(t, stream(b))
		expect(t, rd, want)
		if p := strings.Join(rd.Problems(), " "); !strings.Contains(p, "the samples go on past the 4444 frames (0.1 s) that the header declares; all were read, 50000 frames (1.0 s)") &&
			!strings.Contains(p, "past the 4445 frames") {
			t.Errorf("problems %q", p)
		}
	}
}

// TestReaderBeyond4GiB reads the last frame of a stream of more than 4 GiB,
// where 32-bit lengths have wrapped round.
func TestReaderBeyond4GiB(t *testing.T) {
	if testing.Short() {
		t.Skip("skipped: reads 4 GiB")
	}
	const channels, frames = 1024, 1<<20 + 1000 // of 4096 bytes
	e, last := encodings[7], coarse(channels, 1)
	format, end := e.format(48000, channels), e.samples(last)
	size := int64(frames * channels * 4)
	tests := map[string][]byte{
		"RF64":    wave64("RF64", uint64(size), format, sized(math.MaxUint32, nil)),
		"wrapped": le("RIFF", uint32(36+size&math.MaxUint32), "WAVE", format, sized(uint32(size&math.MaxUint32), nil)),
	}
	for name, head := range tests {
		t.Run(name, func(t *testing.T) {
			zeros := io.LimitReader(zeros{}, size-int64(len(end)))
			rd := open(t, io.MultiReader(stream(head), zeros, stream(end)))
			dst := make([][]float32, channels)
			dst[3] = make([]float32, 100)
			read, value := 0, float32(0)
			for {
				n, err := rd.Read(dst)
				if err != nil {
					break
				}
				read, value = read+n, dst[3][n-1]
			}
			if read != frames || value != last[3][0] {
				t.Errorf("%d frames, the last one %v; want %d, %v", read, value, frames, last[3][0])
			}
			if p := rd.Problems(); (len(p) > 0) != (name == "wrapped") {
				t.Errorf("problems %q", p)
			}
		})
	}
}

// zeros is silence without an end.
type zeros struct{}

func (zeros) Read(b []byte) (int, error) {
	clear(b)
	return len(b), nil
}

// TestReaderCut cuts recordings at every byte of the first kilobyte and more.
func TestReaderCut(t *testing.T) {
	want := coarse(2, 200)
	for _, e := range []stored{pcm16, encodings[4]} {
		for _, l := range layouts {
			if e.bits != 16 && l.name != "plain" {
				continue
			}
			f, s := e.format(8000, 2), e.samples(want)
			whole := l.build(f, s)
			start := bytes.Index(whole, s)
			if start > 2000 {
				continue
			}
			for cut := range min(len(whole), start+400) {
				checkCut(t, l, file(whole[:cut]), max(cut-start, 0)/(2*e.width()), cut >= start && !l.fileOnly, want)
				checkCut(t, l, stream(whole[:cut]), max(cut-start, 0)/(2*e.width()), cut >= start && !l.fileOnly, want)
			}
		}
	}
}

func checkCut(t *testing.T, l layout, r io.Reader, frames int, readable bool, want [][]float32) {
	t.Helper()
	rd, err := wavio.NewReader(r, "night.wav")
	if !readable {
		checkMessage(t, err)
		return
	}
	if err != nil {
		t.Fatalf("%s, %d frames left: %v", l.name, frames, err)
	}
	expect(t, rd, [][]float32{want[0][:frames], want[1][:frames]})
	if len(rd.Problems()) == 0 {
		t.Errorf("%s, %d frames left: no problem told", l.name, frames)
	}
}

// checkMessage checks that an error is of one line, names the file and says
// what to do about it.
func checkMessage(t testing.TB, err error) {
	t.Helper()
	switch {
	case err == nil:
		t.Error("no error")
	case !strings.HasPrefix(err.Error(), "night.wav: ") || strings.ContainsAny(err.Error(), "\n\r"):
		t.Errorf("error %q doesn't begin with the name, or is of several lines", err)
	case !strings.Contains(err.Error(), "convert") && !strings.Contains(err.Error(), "copy") && !strings.Contains(err.Error(), "resample"):
		t.Errorf("error %q has no remedy", err)
	}
}

// dribbles give a stream in small pieces.
var dribbles = map[string]func(io.Reader) io.Reader{
	"byte by byte":   iotest.OneByteReader,
	"halves":         iotest.HalfReader,
	"end with data":  iotest.DataErrReader,
	"all at once":    func(r io.Reader) io.Reader { return greedy{bufio.NewReader(r)} },
	"pieces of 1021": func(r io.Reader) io.Reader { return &pieces{r: r, sizes: []int{1021}} },
	"uneven pieces":  func(r io.Reader) io.Reader { return &pieces{r: r, sizes: []int{1, 0, 5, 65536, 0, 3, 4096}} },
}

// TestReaderDribble compares streams that come in small pieces with the whole.
func TestReaderDribble(t *testing.T) {
	want := coarse(3, 40_000)
	for _, e := range encodings {
		b := wave(list, e.format(48000, 3), chunk("data", e.samples(want)), list)
		for name, dribble := range dribbles {
			t.Run(e.name+"/"+name, func(t *testing.T) {
				rd := open(t, dribble(stream(b)))
				expect(t, rd, want)
				if p := rd.Problems(); len(p) > 0 {
					t.Errorf("problems %q", p)
				}
			})
		}
	}
}

// greedy fills all that it is given, and tells the end together with the last
// bytes.
type greedy struct{ *bufio.Reader }

func (g greedy) Read(b []byte) (int, error) {
	n, err := io.ReadFull(g.Reader, b)
	if _, last := g.Peek(1); err == nil {
		err = last
	}
	if err == io.ErrUnexpectedEOF {
		err = io.EOF
	}
	return n, err
}

// pieces reads at most so many bytes at a time, in turn.
type pieces struct {
	r     io.Reader
	sizes []int
	turn  int
}

func (p *pieces) Read(b []byte) (int, error) {
	n := min(p.sizes[p.turn%len(p.sizes)], len(b))
	p.turn++
	return p.r.Read(b[:n])
}

// TestReaderFails checks that what came before a fault is delivered, and the
// fault then told.
func TestReaderFails(t *testing.T) {
	want := coarse(1, 1000)
	b := wave(pcm16.format(8000, 1), chunk("data", pcm16.samples(want)))
	fault := errors.New("unplugged")
	rd := open(t, io.MultiReader(stream(b[:len(b)-201]), iotest.ErrReader(fault)))
	got, err := readAll(rd)
	if len(got[0]) != 899 {
		t.Errorf("%d frames before the fault, want 899", len(got[0]))
	}
	if !errors.Is(err, fault) {
		t.Errorf("error %v, want %v", err, fault)
	}
	checkMessage(t, err)

	for cut := range 60 { // the header and the first samples
		rd, err := wavio.NewReader(io.MultiReader(stream(b[:cut]), iotest.ErrReader(fault)), "night.wav")
		if err == nil {
			_, err = readAll(rd)
		}
		if !errors.Is(err, fault) {
			t.Errorf("after %d bytes: error %v, want %v", cut, err, fault)
		}
		checkMessage(t, err)
	}

	rd = open(t, io.MultiReader(stream(b), iotest.ErrReader(fault)))
	expect(t, rd, want) // a fault past the samples takes nothing away

	if _, err := wavio.NewReader(forward{&pieces{r: stream(b), sizes: []int{0}}}, "night.wav"); !errors.Is(err, io.ErrNoProgress) {
		t.Errorf("a stream that gives nothing: %v", err)
	}
}

func TestReaderRefuses(t *testing.T) {
	samples := chunk("data", make([]byte, 64))
	with := func(s stored) []byte { return wave(s.format(48000, 1), samples) }
	tests := []struct {
		name string
		b    []byte
		want string
	}{
		{"nothing", nil, "is empty"},
		{"FLAC", le("fLaC\x00\x00\x00\x22", make([]byte, 64)), "holds FLAC, not WAV: convert it"},
		{"Ogg", le("OggS", make([]byte, 64)), "holds Ogg"},
		{"MP3", le("ID3\x04", make([]byte, 64)), "holds MP3"},
		{"bare MP3", le("\xff\xfb\x90\x64", make([]byte, 64)), "holds MP3"},
		{"AIFF", le("FORM\x00\x00\x10\x00AIFF", make([]byte, 64)), "holds AIFF"},
		{"MPEG-4", le("\x00\x00\x00\x20ftypM4A ", make([]byte, 64)), "holds MPEG-4"},
		{"lower-case RIFF", le("riff", make([]byte, 64)), "holds no WAV"},
		{"text", []byte("Wound at nine,\nstopped at six.\n"), "holds text"},
		{"zeros", make([]byte, 100), "is not a WAV file"},
		{"AVI", le("RIFF", uint32(4), "AVI ", make([]byte, 64)), "holds no WAV"},
		{"header alone", []byte("RIFF\x24\x00\x00\x00WAVE"), "ends before its first sample"},
		{"half of it", []byte("RIFF\x24\x00\x00\x00WA"), "ends before its first sample"},
		{"no data", wave(pcm16.format(8000, 1)), "ends before its first sample"},
		{"no format", wave(samples), "the samples have no format"},
		{"short format", wave(chunk("fmt ", make([]byte, 14)), samples), "14 bytes where 16 are needed"},
		{"endless chunks", wave(make([]byte, 100_000)), "no samples in the first 4096 chunks"},
		{"no rate", wave(pcm16.format(0, 1), samples), "sample rate is 0 Hz"},
		{"low rate", wave(pcm16.format(7999, 1), samples), "sample rate is 7999 Hz, and 8000 to 192000 Hz can be read"},
		{"high rate", wave(pcm16.format(192001, 1), samples), "sample rate is 192001 Hz"},
		{"no channels", wave(pcm16.format(8000, 0), samples), "no channels"},
		{"too many channels", wave(encodings[8].format(8000, 65535), samples), "frames of 524280 bytes"},
		{"ADPCM", with(stored{tag: 2, bits: 4}), "holds ADPCM samples"},
		{"IMA ADPCM", with(stored{tag: 17, bits: 4}), "holds IMA ADPCM"},
		{"MP3 in WAV", with(stored{tag: 0x55, bits: 0}), "holds MP3"},
		{"unknown", with(stored{tag: 0x4242, bits: 16}), "number 0x4242"},
		{"extensible without its fields", with(stored{tag: 0xFFFE, bits: 16}), "number 0xFFFE"},
		{"extensible ADPCM", wave(stored{tag: 2, bits: 4}.extensible(48000, 1), samples), "holds ADPCM"},
		{"0 bits", with(stored{tag: 1, bits: 0}), "holds 0-bit samples"},
		{"48 bits", with(stored{tag: 1, bits: 48}), "holds 48-bit samples"},
		{"16-bit float", with(stored{tag: 3, bits: 16}), "holds 16-bit floating-point"},
		{"24 bits anywhere in 32", wave(chunk("fmt ", le(uint16(1), uint16(2), uint32(48000), uint32(384000), uint16(8), uint16(24))), chunk("data", le([]float32{9, -9}))), "room for 32"},
	}
	for _, test := range tests {
		for kind, r := range map[string]io.Reader{"file": file(test.b), "stream": stream(test.b)} {
			t.Run(test.name+"/"+kind, func(t *testing.T) {
				_, err := wavio.NewReader(r, "night.wav")
				want := test.want
				if test.name == "no format" && kind == "stream" {
					want = "format comes after the samples"
				}
				checkMessage(t, err)
				if err != nil && !strings.Contains(err.Error(), want) {
					t.Errorf("error %q, want %q", err, want)
				}
			})
		}
	}
}

// TestReaderSeeksWithin reads a header that would have it seek to where file
// systems refuse to go.
func TestReaderSeeksWithin(t *testing.T) {
	for name, b := range map[string][]byte{
		"RF64":   wave64("RF64", 1<<49, sized(math.MaxUint32, make([]byte, 70_000))),
		"Wave64": append(sony(wave(list))[:40], append(sony(wave(chunk("junk", nil)))[40:56], le(uint64(1<<49), make([]byte, 70_000))...)...),
	} {
		_, err := wavio.NewReader(short{bytes.NewReader(b), int64(len(b))}, "night.wav")
		checkMessage(t, err)
		if err != nil && strings.Contains(err.Error(), "can't be read") {
			t.Errorf("%s: %v", name, err)
		}
	}
}

// short is a file in a system that holds none longer than size bytes.
type short struct {
	*bytes.Reader
	size int64
}

func (s short) Seek(offset int64, whence int) (int64, error) {
	if offset > s.size {
		return 0, errors.New("invalid argument")
	}
	return s.Reader.Seek(offset, whence)
}

func TestReaderNamesInOneLine(t *testing.T) {
	_, err := wavio.NewReader(file(nil), "night\n.wav")
	if err == nil || strings.Contains(err.Error(), "\n") || !strings.HasPrefix(err.Error(), `"night\n.wav": `) {
		t.Errorf("error %q", err)
	}
}

func TestReaderPanics(t *testing.T) {
	rd := open(t, file(wave(pcm16.format(8000, 2), chunk("data", make([]byte, 64)))))
	for name, dst := range map[string][][]float32{
		"one buffer for two channels": {make([]float32, 4)},
		"no buffer":                   {nil, nil},
		"empty buffer":                {{}, make([]float32, 4)},
		"different lengths":           {make([]float32, 3), make([]float32, 4)},
	} {
		t.Run(name, func(t *testing.T) {
			defer func() {
				if p := fmt.Sprint(recover()); !strings.HasPrefix(p, "wavio: ") {
					t.Errorf("panic %q", p)
				}
			}()
			rd.Read(dst)
		})
	}
}
