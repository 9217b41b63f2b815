package wavio

import (
	"fmt"
	"io"
	"os"
	"slices"
)

// stdinName is what messages call standard input.
const stdinName = "standard input"

// Parts is the Source of several recordings that follow each other without a
// gap. The caller closes it.
type Parts struct {
	format   Format
	parts    []part
	current  int         // the part that is being read
	rest     [][]float32 // dst from the frame on that comes next
	problems []string    // of the parts that have been read
	err      error       // sticks
}

// part is one recording: open, or still to be opened.
type part struct {
	path   string
	reader *Reader
	closer io.Closer // nil: the caller's, or not open
}

// OpenParts opens recordings that are consecutive parts of one run, in the
// order given. The path "-" stands for stdin. All headers are read at once, so
// that a fault in the last part shows at the beginning; files are then opened
// again, one at a time.
//
// The parts must agree in sample rate and number of channels, else the error
// names the one that differs. The Format is that of the first part, with the
// frames of all.
func OpenParts(paths []string, stdin io.Reader) (*Parts, error) {
	if len(paths) == 0 {
		panic("wavio: OpenParts without a path")
	}
	p := &Parts{}
	for i, path := range paths {
		if err := p.add(i, path, stdin); err != nil {
			p.Close()
			return nil, err
		}
	}
	p.rest = make([][]float32, p.format.Channels)
	return p, nil
}

func (p *Parts) add(i int, path string, stdin io.Reader) error {
	if path == "-" {
		return p.addStdin(i, stdin)
	}
	f, err := Open(path)
	if err != nil {
		return err
	}
	next := part{path, f.Reader, f}
	if info, err := f.file.Stat(); i > 0 && err == nil && info.Mode().IsRegular() {
		next.reader, next.closer = nil, nil
		defer f.Close()
	}
	p.parts = append(p.parts, next)
	return p.agree(i, f.Reader)
}

func (p *Parts) addStdin(i int, stdin io.Reader) error {
	for _, earlier := range p.parts {
		if earlier.path == "-" {
			return fmt.Errorf("%s: named twice, but it can be read only once: give - once", stdinName)
		}
	}
	r, err := NewReader(stdin, stdinName)
	if err != nil {
		return err
	}
	p.parts = append(p.parts, part{"-", r, nil})
	return p.agree(i, r)
}

// agree takes the format of part i into account.
func (p *Parts) agree(i int, r *Reader) error {
	f := r.Format()
	if i == 0 {
		p.format = f
		return nil
	}
	if f.SampleRate != p.format.SampleRate || f.Channels != p.format.Channels {
		first := OneLine(p.parts[0].path)
		if first == "-" {
			first = stdinName
		}
		return fmt.Errorf("%s: has %s, but %s has %s, and parts of one run must agree: convert one of them, or analyse it on its own",
			r.name, describe(f), first, describe(p.format))
	}
	if p.format.Frames == noLength || f.Frames == noLength {
		p.format.Frames = noLength
	} else {
		p.format.Frames += f.Frames
	}
	return nil
}

func describe(f Format) string {
	if f.Channels == 1 {
		return fmt.Sprintf("%d Hz and 1 channel", f.SampleRate)
	}
	return fmt.Sprintf("%d Hz and %d channels", f.SampleRate, f.Channels)
}

// Format describes the run: that of the first part, with the frames of all.
func (p *Parts) Format() Format { return p.format }

// Read implements Source.
func (p *Parts) Read(dst [][]float32) (frames int, err error) {
	n := checkBuffers(dst, p.format.Channels)
	for frames < n && p.err == nil {
		for c, d := range dst {
			if d != nil {
				p.rest[c] = d[frames:]
			} else {
				p.rest[c] = nil
			}
		}
		k := 0
		now, err := p.open()
		if err == nil {
			k, err = now.Read(p.rest)
		}
		frames += k
		if err == io.EOF {
			p.next()
		} else {
			p.err = err
		}
	}
	clear(p.rest) // the caller may be done with dst, which is much
	if frames == 0 {
		return 0, p.err
	}
	return frames, nil
}

// open returns the reader of the current part, and opens it first if need be.
func (p *Parts) open() (*Reader, error) {
	now := &p.parts[p.current]
	if now.reader == nil {
		f, err := Open(now.path)
		if err != nil {
			return nil, err
		}
		now.reader, now.closer = f.Reader, f
		if f := f.Format(); f.SampleRate != p.format.SampleRate || f.Channels != p.format.Channels {
			return nil, fmt.Errorf("%s: was changed while the run was read: try again", now.reader.name)
		}
	}
	return now.reader, nil
}

// next leaves the current part for the one after it.
func (p *Parts) next() {
	p.problems = append(p.problems, p.parts[p.current].reader.Problems()...)
	p.closeOne(p.current)
	p.parts[p.current].reader = nil // and its buffer
	p.current++
	if p.current == len(p.parts) {
		p.err = io.EOF
	}
}

// Problems implements Source: those of all parts so far, in their order.
func (p *Parts) Problems() []string {
	all := slices.Clone(p.problems)
	if p.current < len(p.parts) && p.parts[p.current].reader != nil {
		all = append(all, p.parts[p.current].reader.Problems()...)
	}
	return all
}

// Close closes the files that are open. Standard input is the caller's. A Read
// after Close returns an error.
func (p *Parts) Close() error {
	var first error
	for i := range p.parts {
		if err := p.closeOne(i); err != nil && first == nil {
			first = err
		}
	}
	if p.err == nil {
		p.err = os.ErrClosed
	}
	return first
}

func (p *Parts) closeOne(i int) error {
	c := p.parts[i].closer
	p.parts[i].closer = nil
	if c == nil {
		return nil
	}
	return c.Close()
}
