package beat

import (
	"math"

	"rundown/dsp/filter"
	"rundown/dsp/wavio"
)

// sampleBuffer holds the stretch of the recording that is still needed, of one channel:
// the sound as it is stored, and how loud each block of it is at a glance. What
// is to be heard exactly is decoded and filtered when it is asked for, which is
// a few hundredths of a night.
type sampleBuffer struct {
	block  int
	band   *filter.Band
	sounds []*wavio.Stored // consecutive; all but the last of whole blocks
	first  int64           // frame at which they start, a multiple of block
	last   int64           // and the one after their end
	rough  []float32       // rough[i] is of the block that starts at frame first + i·block
	ended  bool            // the recording ends with them
	spare  chan *wavio.Stored
	x      []float32 // scratch of span
	e      []float32 // e[i] is the energy of block heard + i, counted from the recording's start
	heard  int64
}

// newSampleBuffer returns one that starts at a frame. spare takes what it no longer
// needs, as far as it has room.
func newSampleBuffer(block int, band *filter.Band, first int64, spare chan *wavio.Stored) *sampleBuffer {
	return &sampleBuffer{block: block, band: band, first: first, last: first, spare: spare}
}

// roughEnergies returns how loud the blocks of a sound are, roughly, in a band about
// the model's: from some twelve samples of a block.
func roughEnergies(s *wavio.Stored, band *filter.Band, block int) []float32 {
	lag := max(1, int(math.Round(band.Rate/band.Centre/2)))
	step := max(1, block/12)
	for block%step != 0 {
		step--
	}
	return s.Differences(make([]float32, 0, s.Len()/block), lag, step, block)
}

// add appends a sound, and how loud its blocks are at a glance.
func (t *sampleBuffer) add(s *wavio.Stored, rough []float32) {
	t.sounds = append(t.sounds, s)
	t.rough = append(t.rough, rough...)
	t.last += int64(s.Len())
}

// forget drops sounds that end before a frame.
func (t *sampleBuffer) forget(before int64) {
	n := 0
	for _, s := range t.sounds[:max(0, len(t.sounds)-1)] {
		if t.first+int64(s.Len()) > before {
			break
		}
		t.first += int64(s.Len())
		t.rough = t.rough[:copy(t.rough, t.rough[s.Len()/t.block:])]
		select {
		case t.spare <- s:
		default:
		}
		n++
	}
	t.sounds = append(t.sounds[:0], t.sounds[n:]...)
}

// span decodes the frames from one to another, as far as they are in the buffer,
// and tells which is the first of them. They are good until the next call.
func (t *sampleBuffer) span(from, to int64) (x []float32, first int64) {
	from, to = max(from, t.first), min(to, t.last)
	if to <= from {
		return nil, from
	}
	if n := int(to - from); cap(t.x) < n {
		t.x = make([]float32, n)
	}
	t.x = t.x[:to-from]
	at := t.first
	for _, s := range t.sounds {
		end := at + int64(s.Len())
		if a, b := max(from, at), min(to, end); a < b {
			s.Samples(t.x[a-from:b-from], int(a-at))
		}
		at = end
	}
	return t.x, from
}

// blocks clips the blocks that hold the frames from one to another to the buffer,
// and returns the first and the one after the last, counted from its start.
func (t *sampleBuffer) blocks(from, to float64) (a, b int) {
	a = int((from - float64(t.first)) / float64(t.block))
	b = int((to-float64(t.first))/float64(t.block)) + 1
	return max(0, min(a, len(t.rough))), max(0, min(b, len(t.rough)))
}

// roughly returns how loud the blocks from one frame to another are at a glance,
// as far as they are in the buffer; the caller may not keep them.
func (t *sampleBuffer) roughly(from, to float64) []float32 {
	a, b := t.blocks(from, to)
	if b <= a {
		return nil
	}
	return t.rough[a:b]
}

// energies returns the energies of the blocks from a to b, counted from the
// buffer's start, in the model's band. They are good until the next call. What it
// returned last is not filtered again.
func (t *sampleBuffer) energies(a, b int) []float32 {
	if b <= a {
		return nil
	}
	start := t.first/int64(t.block) + int64(a)
	if skip := start - t.heard; skip >= 0 && skip < int64(len(t.e)) {
		t.e = t.e[:copy(t.e, t.e[skip:])]
	} else {
		t.e = t.e[:0]
	}
	t.heard = start
	if a += len(t.e); a >= b {
		return t.e[:len(t.e)-(a-b)]
	}
	warm := t.band.Warmup()
	from := t.first + int64(a*t.block) - int64(warm)
	x, first := t.span(from, t.first+int64(b*t.block))
	if first > from { // before the recording, silence
		silent := int(first - from)
		x = append(make([]float32, silent, silent+len(x)), x...)
	}
	t.e = t.band.Energies(t.e, x, t.block)
	return t.e
}
