package wavio

import (
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
	"sync"
)

// Growing is a recording that is written as it comes, and can be read
// meanwhile. After every Write its header gives the length that it has by then,
// so that whatever ends the program leaves a whole file: WAV up to 4 GiB, RF64
// beyond. One goroutine may write while others read.
type Growing struct {
	file   *os.File
	format Format
	encode encoder
	decode decoder
	frame  int // bytes in a frame
	start  int64
	buf    []byte

	mu     sync.Mutex
	more   sync.Cond // frames or ended has changed
	frames int64     // whole in the file
	ended  bool
}

// ErrExists says that a recording is never written over another file.
var ErrExists = errors.New("is there already, and no recording is ever overwritten: give another name")

// Create begins a recording of 16- or 24-bit integers or of 32-bit floating
// point, by f. A file of that name must not be there: the error is then
// ErrExists. It panics if f is not a format that can be written.
func Create(path string, f Format) (*Growing, error) {
	e, width := encoderFor(f)
	if e == nil || f.SampleRate < 1 || f.Channels < 1 || f.Channels*width > 1<<16-1 {
		panic(fmt.Sprintf("wavio: Create can't write %+v", f))
	}
	tag := uint16(tagPCM)
	if f.Float {
		tag = tagFloat
	}
	f.Frames = noLength
	g := &Growing{format: f, encode: e, frame: f.Channels * width}
	g.decode, _ = decoderFor(tag, f.BitsPerSample)
	g.buf = make([]byte, max(bufferSize/g.frame, 1)*g.frame)
	g.more.L = &g.mu
	file, err := os.OpenFile(path, os.O_RDWR|os.O_CREATE|os.O_EXCL, 0o666)
	if errors.Is(err, fs.ErrExist) {
		err = ErrExists
	}
	if err != nil {
		return nil, err
	}
	g.file = file
	if err := g.head(); err != nil {
		file.Close()
		os.Remove(path)
		return nil, err
	}
	return g, nil
}

// head writes the header for what is in the file.
func (g *Growing) head() error {
	h, err := header(g.format, g.frames*int64(g.frame), true)
	if err != nil {
		return err
	}
	if g.start == 0 { // it keeps its length: a Follower reads start while frames are written
		g.start = int64(len(h))
	}
	_, err = g.file.WriteAt(h, 0)
	return err
}

// Format describes the recording; its length is never said.
func (g *Growing) Format() Format { return g.format }

// Frames returns how many frames are in the file.
func (g *Growing) Frames() int64 {
	g.mu.Lock()
	defer g.mu.Unlock()
	return g.frames
}

// Write appends frames, as Writer.Write does, and brings the header up to date.
// Where that fails, as on a full disk, the file is whole up to a frame before,
// and Frames tells how many there are.
func (g *Growing) Write(src [][]float32) error {
	frames, err := g.frames, error(nil)
	for at := 0; at < len(src[0]) && err == nil; {
		n := min(len(src[0])-at, len(g.buf)/g.frame)
		for c, s := range src {
			g.encode(g.buf[c*g.frame/g.format.Channels:], s[at:at+n], g.frame)
		}
		if _, err = g.file.WriteAt(g.buf[:n*g.frame], g.start+frames*int64(g.frame)); err == nil {
			frames += int64(n)
			at += n
		}
	}
	g.mu.Lock()
	defer g.mu.Unlock()
	g.frames = frames
	g.more.Broadcast()
	if err != nil {
		err = errors.Join(err, g.file.Truncate(g.start+frames*int64(g.frame)))
	}
	return errors.Join(err, g.head())
}

// Sync brings the recording to the disk: what was written before outlasts a loss
// of power.
func (g *Growing) Sync() error { return g.file.Sync() }

// Close completes the recording. Readers of it go on to its end.
func (g *Growing) Close() error {
	g.mu.Lock()
	g.ended = true
	g.more.Broadcast()
	g.mu.Unlock()
	var err error
	if size := g.frames * int64(g.frame); size%2 != 0 {
		_, err = g.file.WriteAt([]byte{0}, g.start+size)
	}
	return errors.Join(err, g.file.Sync(), g.file.Close())
}

// Follower is the Source of a recording that grows: it waits for frames that are
// still to come. It ends where the recording is closed. The caller closes it.
type Follower struct {
	g     *Growing
	file  *os.File
	at    int64 // frames delivered
	bytes []byte
	left  bool // guarded by g.mu: closed
}

// Follow returns a Source of the recording from a frame on.
func (g *Growing) Follow(from int64) (*Follower, error) {
	file, err := os.Open(g.file.Name())
	if err != nil {
		return nil, err
	}
	return &Follower{g: g, file: file, at: from}, nil
}

// Format implements Source.
func (f *Follower) Format() Format { return f.g.format }

// Problems implements Source: there are none.
func (f *Follower) Problems() []string { return nil }

// Read implements Source.
func (f *Follower) Read(dst [][]float32) (frames int, err error) {
	n := f.wait(checkBuffers(dst, f.g.format.Channels))
	if n == 0 {
		return 0, io.EOF
	}
	f.bytes = resize(f.bytes, n*f.g.frame)
	if _, err := f.file.ReadAt(f.bytes, f.g.start+f.at*int64(f.g.frame)); err != nil {
		return 0, fmt.Errorf("%s: %w", OneLine(f.file.Name()), readError(err))
	}
	for c, d := range dst {
		if d != nil {
			f.g.decode(d[:n], f.bytes[c*f.g.frame/f.g.format.Channels:], f.g.frame)
		}
	}
	f.at += int64(n)
	return n, nil
}

// wait waits for n frames, or for the end, and returns how many there are.
func (f *Follower) wait(n int) int {
	f.g.mu.Lock()
	defer f.g.mu.Unlock()
	for f.g.frames-f.at < int64(n) && !f.g.ended && !f.left {
		f.g.more.Wait()
	}
	if f.left {
		return 0
	}
	return int(max(0, min(f.g.frames-f.at, int64(n))))
}

// Close ends the Source, a Read that waits included.
func (f *Follower) Close() error {
	f.g.mu.Lock()
	f.left = true
	f.g.more.Broadcast()
	f.g.mu.Unlock()
	return f.file.Close()
}

// StreamHeader returns the header of a recording whose length is not known, for
// frames that follow it on a stream.
func StreamHeader(f Format) ([]byte, error) { return header(f, noLength, false) }
