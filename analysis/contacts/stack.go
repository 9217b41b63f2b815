package contacts

import (
	"cmp"
	"math"
	"slices"
	"sync"

	"gonum.org/v1/gonum/blas/gonum"

	"rundown/dsp/stats"
)

// Stack is the mean sound of some beats of one side, laid over each other at
// their marks.
type Stack struct {
	Time  float64 // mean instant of the beats, frames
	Beats int
	// Sound is the mean; its sample Pre of the Stacker that made it lies at the
	// mark, less Late.
	Sound Coded
	Late  float64 // frames by which the marks came after the sample they were laid at, in the mean
}

// Block is a stretch of the run, with a stack of either side.
type Block struct {
	Sides [2]Stack
	first float64 // frames
	last  float64
	loss  float64 // what joining it with the next one loses; NaN where it was not worked out
}

// A Stacker keeps no more than so much sound, in bytes, and no more than so many blocks:
// with more, a reading takes longer and tells the same.
const (
	memory     = 32 << 20
	mostBlocks = 512
)

// Where memory is full, a block lasts no longer than share of its distance from either end of
// the run, and than few beats of either side, as long as that frees enough of it: a course that
// begins at full wind, or ends in a stop, bends the less, the farther from that it is.
const (
	share = 1. / 64
	few   = 4
)

// blas fills the processor's wide registers.
var blas gonum.Implementation

// Stacker lays beats over each other: those of a block, which is one beat of either side
// at first. Where its memory is full, it joins neighbours that are alike, so that the sounds
// do not move within a block; meanwhile, new blocks are filled.
type Stacker struct {
	Pre, Post int // frames of sound kept before the mark, and from it on

	joining sync.WaitGroup // whose goroutine has blocks, longest, share and freed to itself
	blocks  []Block
	longest float64 // frames that a joined block may last
	share   float64 // and the part of its distance from either end that it may
	freed   []Coded

	most   int     // blocks
	older  int     // how many blocks there are, or will be when they are joined
	latest []Block // after them
	open   Block
	sums   [2][]float32 // of the beats of the block that is being filled
	spare  []Coded
	turn   [2]int
	beats  [2]int
	energy [2]level
}

// NewStacker returns an empty one for beats of which it keeps so many frames
// before and after the mark.
func NewStacker(pre, post int) *Stacker {
	s := &Stacker{Pre: pre, Post: post, most: min(max(16, memory/4/(pre+post)), mostBlocks), share: share}
	for i := range s.sums {
		s.sums[i] = make([]float32, pre+post)
	}
	s.begin()
	return s
}

func (s *Stacker) begin() {
	s.open = Block{first: math.NaN(), loss: math.NaN()}
	for i := range s.open.Sides {
		if n := len(s.spare); n > 0 { // memory of a block that was joined
			s.open.Sides[i].Sound, s.spare = s.spare[n-1], s.spare[:n-1]
		}
	}
}

// plainSNR is the signal-to-noise ratio of a beat's clearest sound from which a few
// beats of a block tell as much as all of them.
const plainSNR = 25

// Of the beats of a side, all are taken at first, after longRun of them every other
// one, and after twice as many every fourth: in a run of an hour, all.
const longRun = 10000

// Wants reports whether the next beat of a side, of which the clearest sound has
// a signal-to-noise ratio, is to be added: where beats are plain, and many, some are
// enough. It counts the beats.
func (s *Stacker) Wants(side int, snr float64) bool {
	s.turn[side]++
	every := 1 << min(2, s.turn[side]/longRun)
	return snr < plainSNR || s.turn[side]%every == 0
}

// mostAlone is how many beats of a side are laid over each other while the other one is not
// heard, at the most: where one side fades before a stop, the sounds of the other move fast.
const mostAlone = 2

// Add lays a beat over the others. x holds Pre frames before the whole frame
// next below its mark, and Post from there on; late is the rest of the mark's
// frame. A sound far louder than the beats before it is left out.
func (s *Stacker) Add(side int, mark float64, x []float32) {
	if !s.energy[side].usual(power(x)) {
		return
	}
	st := &s.open.Sides[side]
	if math.IsNaN(s.open.first) {
		s.open.first = mark
	}
	s.open.last = mark
	if st.Beats == 0 {
		copy(s.sums[side], x)
	} else {
		blas.Saxpy(len(x), 1, x, 1, s.sums[side], 1)
	}
	st.Time += mark
	st.Late += mark - math.Floor(mark)
	st.Beats++
	s.beats[side]++
	if min(s.open.Sides[0].Beats, s.open.Sides[1].Beats) > 0 || st.Beats >= mostAlone {
		s.close()
	}
}

// Break ends the block that is being filled: what follows is not to be laid over
// what came before.
func (s *Stacker) Break() {
	if s.open.Sides[0].Beats+s.open.Sides[1].Beats > 0 {
		s.close()
	}
}

func (s *Stacker) close() {
	for i := range s.open.Sides {
		st := &s.open.Sides[i]
		switch n := float64(st.Beats); {
		case n == 0:
			clear(s.sums[i])
		case n > 1:
			st.Time /= n
			st.Late /= n
			blas.Sscal(len(s.sums[i]), float32(1/n), s.sums[i], 1)
		}
		st.Sound.Encode(s.sums[i])
	}
	s.latest = append(s.latest, s.open)
	if s.older+len(s.latest) >= s.most {
		s.settle()
		s.older = s.most * 7 / 8
		s.joining.Go(s.join)
	}
	s.begin()
}

// settle puts the latest blocks after the older ones, once these are joined.
func (s *Stacker) settle() {
	s.joining.Wait()
	s.blocks = append(s.blocks, s.latest...)
	s.spare = append(s.spare, s.freed...)
	s.older, s.latest, s.freed = len(s.blocks), s.latest[:0], s.freed[:0]
}

// join joins neighbours, those first that lose least, until an eighth of the blocks is free.
func (s *Stacker) join() {
	first, now := s.blocks[0].first, s.blocks[len(s.blocks)-1].last
	if s.longest == 0 {
		s.longest = few * (now - first) / float64(len(s.blocks))
	}
	for aim := s.most * 7 / 8; len(s.blocks) > aim; {
		pairs := s.pairs(first, now)
		switch {
		case len(pairs) > 0:
			s.joinAll(pairs[:min(len(pairs), len(s.blocks)-aim)])
		case s.longest > s.share*(now-first)/2:
			s.share *= 2
		default:
			s.longest *= 2
		}
	}
}

// pairs returns the first blocks of pairs that may be joined, none of which has a block in
// common with another, the one that loses least first. first and now are the ends of the run.
// What moves unseen in the room's noise moves the more the longer a pair lasts, against its
// distance from the ends: for that counts what half of the pairs lose above the least.
func (s *Stacker) pairs(first, now float64) []int {
	type pair struct {
		k      int
		lasts  float64 // against its distance from the ends
		losing float64
	}
	var all []pair
	var losses, lasting []float64
	for k := range s.blocks[:len(s.blocks)-1] {
		a, b := &s.blocks[k], &s.blocks[k+1]
		lasts, away := b.last-a.first, min(now-b.last, b.last-first)
		if lasts > min(s.longest, s.share*away) {
			continue
		}
		if math.IsNaN(a.loss) {
			a.loss = loss(a, b)
		}
		all = append(all, pair{k, lasts / away, a.loss})
		losses, lasting = append(losses, a.loss), append(lasting, lasts/away)
	}
	if len(all) == 0 {
		return nil
	}
	unseen := (stats.Median(losses) - slices.Min(losses)) / stats.Median(lasting)
	slices.SortStableFunc(all, func(i, j pair) int {
		return cmp.Compare(i.losing+unseen*i.lasts, j.losing+unseen*j.lasts)
	})
	taken := make([]bool, len(s.blocks)+1)
	var out []int
	for _, p := range all {
		if !taken[p.k] && !taken[p.k+1] {
			taken[p.k], taken[p.k+1] = true, true
			out = append(out, p.k)
		}
	}
	return out
}

// loss returns by how much the sum of the squares of what beats differ by from the mean of
// their block grows where two blocks are joined (J. H. Ward, J. Am. Stat. Assoc. 58, 1963). A
// steady room adds the same to each pair. Sounds are taken by what they change by from frame
// to frame, which leaves the hum of mains out.
func loss(a, b *Block) float64 {
	sum := 0.0
	for i := range a.Sides {
		p, q := &a.Sides[i], &b.Sides[i]
		if p.Beats == 0 || q.Beats == 0 {
			continue
		}
		x, y := p.Sound.x, q.Sound.x[:len(p.Sound.x)]
		at := func(j int) float32 { return p.Sound.unit*float32(x[j]) - q.Sound.unit*float32(y[j]) }
		var squares, others, before float32 // two sums, which the processor adds to side by side
		for j := 1; j < len(x); j += 2 {
			c, d := at(j-1), at(j)
			squares += (c - before) * (c - before)
			others += (d - c) * (d - c)
			before = d
		}
		m, n := float64(p.Beats), float64(q.Beats)
		sum += m * n / (m + n) * float64(squares+others)
	}
	return sum
}

// joinAll joins blocks with those after them.
func (s *Stacker) joinAll(pairs []int) {
	second := make([]bool, len(s.blocks))
	for _, k := range pairs {
		a, b := &s.blocks[k], &s.blocks[k+1]
		s.freed = append(s.freed, b.Sides[0].Sound, b.Sides[1].Sound)
		lay(b, a)
		second[k+1] = true
		if k > 0 {
			s.blocks[k-1].loss = math.NaN()
		}
	}
	kept := s.blocks[:0]
	for k, b := range s.blocks {
		if !second[k] {
			kept = append(kept, b)
		}
	}
	s.blocks = kept
}

// lay lays b over a.
func lay(b, a *Block) {
	for i := range a.Sides {
		p, q := &a.Sides[i], &b.Sides[i]
		n := float64(p.Beats + q.Beats)
		if n == 0 {
			continue
		}
		u, v := float64(p.Beats)/n, float64(q.Beats)/n
		p.Time, p.Late = u*p.Time+v*q.Time, u*p.Late+v*q.Late
		p.Beats += q.Beats
		p.Sound.Mix(float32(u), &q.Sound, float32(v))
	}
	a.last, a.loss = b.last, math.NaN()
}

// Beats returns how many beats of a side were laid over each other.
func (s *Stacker) Beats(side int) int { return s.beats[side] }

// Latest returns the mean sound of the latest beats of a side, at least so many
// where there have been so many, of how many it is, and how far into it the mark lies, in
// frames; nil before any block was filled.
func (s *Stacker) Latest(side, beats int) (sound []float64, of int, mark float64) {
	s.settle()
	var n float64
	for k := len(s.blocks) - 1; k >= 0 && n < float64(beats); k-- {
		st := &s.blocks[k].Sides[side]
		if sound == nil {
			sound = make([]float64, len(st.Sound.x))
		}
		for i, v := range st.Sound.x {
			sound[i] += float64(st.Beats) * float64(st.Sound.unit*float32(v))
		}
		mark += float64(st.Beats) * st.Late
		n += float64(st.Beats)
	}
	if n == 0 {
		return nil, 0, 0
	}
	for i := range sound {
		sound[i] /= n
	}
	return sound, int(n), float64(s.Pre) + mark/n
}

// Blocks ends the block that is being filled and returns all, in order of time.
func (s *Stacker) Blocks() []Block {
	s.Break()
	s.settle()
	return s.blocks
}

// level follows what energy is usual.
type level struct {
	usually float64
	n       int
}

// usual reports whether an energy is not far above those before it, and takes
// it in.
func (l *level) usual(e float64) bool {
	const far, memory = 4, 32
	l.n++
	limit := far * l.usually
	if l.n == 1 {
		l.usually, limit = e, math.Inf(1)
	}
	l.usually += (min(e, limit) - l.usually) / float64(min(l.n, memory))
	return e <= limit
}

func power(x []float32) float64 {
	var sum float32
	for i := 0; i < len(x); i += 2 {
		sum += x[i] * x[i]
	}
	return float64(sum)
}
