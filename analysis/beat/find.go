package beat

import (
	"io"

	"rundown/dsp/wavio"
)

// second is a second of frames in whole blocks.
func (f *follower) second() int { return int(f.rate) / f.block * f.block }

// stretch is how many frames to survey at once: no more than memory has room
// for, 12 million samples.
func (f *follower) stretch() int {
	n := 0
	for _, c := range f.channels {
		if c != nil {
			n++
		}
	}
	return min(stretchSeconds*f.second(), 12_000_000/n/f.block*f.block)
}

// deepTries is in how many stretches a beat deep in the noise is looked for.
const deepTries = 3

// find reads on until a stretch holds a beat, or to the end.
func (f *follower) find() error {
	for try := 0; ; try++ {
		for _, n := range []int{min(glanceSeconds*f.second(), f.stretch()), f.stretch()} {
			if err := f.fill(n); err != nil {
				return err
			}
			least := manyBeats
			if f.ended || n == f.stretch() {
				least = 0
			}
			f.survey(float64(least), n > glanceSeconds*f.second() && try < deepTries && f.frames-f.first > 45*int64(f.rate))
			if f.tracker != nil || f.ended {
				return nil
			}
		}
		drop := f.stretch() / 4 / f.block * f.block
		for c, x := range f.channels {
			if x != nil {
				f.channels[c] = x[:copy(x, x[drop:])]
			}
		}
		f.first += int64(drop)
	}
}

// fill reads frames until there are n of them, or to the end.
func (f *follower) fill(n int) error {
	buf := make([][]float32, len(f.channels))
	for {
		have := int(f.frames - f.first)
		if have >= n || f.ended {
			return nil
		}
		if err := f.ctx.Err(); err != nil {
			return err
		}
		want := min(n-have, f.second())
		for c, x := range f.channels {
			if x != nil {
				f.channels[c] = append(x, make([]float32, want)...)
				buf[c] = f.channels[c][have:]
			}
		}
		got, err := readFull(f.src, buf, want)
		for c, x := range f.channels {
			if x != nil {
				f.channels[c] = x[:have+got]
			}
		}
		f.frames += int64(got)
		for _, x := range f.channels {
			if x != nil {
				f.sound.add(x[have : have+got])
			}
		}
		f.progress()
		if err == io.EOF {
			f.ended = true
		} else if err != nil {
			return err
		}
	}
}

// survey looks for a beat in the stretch, and sets the tracker on it.
func (f *follower) survey(least float64, deep bool) {
	var heard [][]float32
	var index []int
	for c, x := range f.channels {
		if x != nil {
			heard, index = append(heard, x), append(index, c)
		}
	}
	c, ear, shapes := survey(heard, f.rate, least, deep)
	if ear == nil {
		return
	}
	f.channel = index[c]
	x := heard[c]
	t := newTape(f.block, ear.band, f.first, make(chan *wavio.Stored, 8))
	s := wavio.Floats(x)
	t.add(s, glance(s, ear.band, f.block))
	f.channels = make([][]float32, len(f.channels))
	f.tracker = &tracker{tape: t, ear: ear, clock: f.opt.Clock, out: &f.batch, last: -1, shapes: shapes, clip: f.opt.Clip}
}
