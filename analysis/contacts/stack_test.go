package contacts

import (
	"math"
	"math/rand/v2"
	"slices"
	"testing"
)

// sine is a sound of a few frames whose size tells it from others.
func sine(n int, size float64) []float32 {
	x := make([]float32, n)
	for i := range x {
		x[i] = float32(size * math.Sin(float64(i)))
	}
	return x
}

// TestStackerKeepsToItsMemory lays a night's beats over each other and asks that
// none be lost, that blocks be in order and few, long in the middle of the run and
// short at its ends.
func TestStackerKeepsToItsMemory(t *testing.T) {
	const pre, post, interval = 10000, 10000, 9600.
	const most = memory / 4 / (pre + post)
	for _, beats := range []int{7, 8, 1000, 8000} {
		s := NewStacker(pre, post)
		x := sine(pre+post, 1)
		for i := range beats {
			s.Add(i&1, interval*(float64(i)+0.25), x)
			if len(s.blocks) > most {
				t.Fatalf("%d blocks after %d beats, want at most %d", len(s.blocks), i+1, most)
			}
		}
		blocks := s.Blocks()
		var count [2]int
		var time float64
		last := math.Inf(-1)
		for k, b := range blocks {
			if b.first <= last || b.last < b.first {
				t.Fatalf("%d beats: block %d goes from %v to %v, the one before to %v", beats, k, b.first, b.last, last)
			}
			last = b.last
			for side, st := range b.Sides {
				count[side] += st.Beats
				time += st.Time * float64(st.Beats)
				if st.Beats > 0 && (st.Time < b.first || st.Time > b.last) {
					t.Fatalf("%d beats: a stack of block %d is at %v, outside of %v to %v", beats, k, st.Time, b.first, b.last)
				}
				y := make([]float32, st.Sound.Len())
				if st.Sound.Decode(y); st.Beats > 0 && math.Abs(float64(y[1]-x[1])) > 1e-4 {
					t.Fatalf("%d beats: the mean of like sounds is %v, want %v", beats, y[1], x[1])
				}
			}
		}
		if count[0] != (beats+1)/2 || count[1] != beats/2 || s.Beats(0) != count[0] {
			t.Errorf("%d beats: %v were laid, %d counted", beats, count, s.Beats(0))
		}
		if want := interval * (float64(beats-1)/2 + 0.25); math.Abs(time/float64(beats)-want) > 1e-6*want {
			t.Errorf("%d beats: their mean instant is %v, want %v", beats, time/float64(beats), want)
		}
		for _, b := range blocks {
			if long, far := b.last-b.first, min(blocks[len(blocks)-1].last-b.last, b.last-blocks[0].first); long > max(3*interval, far/4) {
				t.Fatalf("%d beats: a block lasts %v beats, %v from an end", beats, long/interval, far/interval)
			}
		}
		if b := blocks[len(blocks)/2]; beats == 20000 && b.last-b.first < 32*interval {
			t.Errorf("%d beats: the block in the middle lasts %v beats", beats, (b.last-b.first)/interval)
		}
	}
}

// TestStackerSparesWhatMoves has a sound that moves against the mark for a third of a run,
// in the middle of it: blocks are shorter there than before and after, at equal distances from
// the ends.
func TestStackerSparesWhatMoves(t *testing.T) {
	const pre, post, beats = 20000, 20000, 6000
	r := rand.New(rand.NewPCG(9, 3))
	noise := make([]float32, 1<<20)
	for i := range noise {
		noise[i] = float32(0.1 * r.NormFloat64())
	}
	s := NewStacker(pre, post)
	place := 5000.0
	x, tone := make([]float32, pre+post), sine(1000, 0.3)
	for i := range beats {
		if i > beats/6 && i < beats/2 {
			place += 0.5
		}
		copy(x, noise[r.IntN(len(noise)-len(x)):])
		for j, v := range tone {
			x[int(place)+j] += v
		}
		s.Add(i&1, 9600*float64(i), x)
	}
	mean := func(from, to int) float64 { // beats of a block
		sum, n := 0, 0
		for _, b := range s.Blocks() {
			if first := int(b.first / 9600); first >= from && first < to {
				sum += b.Sides[0].Beats + b.Sides[1].Beats
				n++
			}
		}
		return float64(sum) / float64(max(1, n))
	}
	if moving, still := mean(beats/6, beats/2), mean(beats/2, beats*5/6); moving > 0.7*still {
		t.Errorf("%.1f beats a block where the sound moves, %.1f where it stays", moving, still)
	}
}

// TestStackerOfOneSide lays beats of one side alone over each other: they are kept apart as
// long as there is room.
func TestStackerOfOneSide(t *testing.T) {
	s := NewStacker(50, 50)
	for i := range 40 {
		s.Add(0, 1000*float64(i), sine(100, 1))
	}
	for _, b := range s.Blocks() {
		if b.Sides[0].Beats > 2 || b.Sides[1].Beats > 0 {
			t.Errorf("a block of %d and %d beats", b.Sides[0].Beats, b.Sides[1].Beats)
		}
	}
}

// TestStackerLeavesLoudOnesOut lays a slammed door among beats, and then beats
// that grow louder for good.
func TestStackerLeavesLoudOnesOut(t *testing.T) {
	s := NewStacker(50, 50)
	for i := range 400 {
		size := 1 + 0.3*math.Sin(float64(i))
		if i%40 == 39 || i == 20 {
			size = 30
		}
		s.Add(0, 1000*float64(i), sine(100, size))
	}
	if got := s.Beats(0); got != 389 {
		t.Errorf("%d beats, want 389", got)
	}
	s.Break()
	before := s.Beats(0)
	for i := range 400 {
		s.Add(0, 1000*float64(i+400), sine(100, 4))
	}
	if got := s.Beats(0) - before; got < 300 {
		t.Errorf("of 400 beats that stay 12 dB louder, %d were taken", got)
	}
}

// TestStackerLatest asks for the mean of the latest beats of a side.
func TestStackerLatest(t *testing.T) {
	s := NewStacker(40, 60)
	if sound, _, _ := s.Latest(0, 1); sound != nil {
		t.Error("a sound of no beats")
	}
	for i := range 80 {
		size := 1.
		if i >= 40 {
			size = 2
		}
		s.Add(i&1, 1000*float64(i)+0.25, sine(100, size))
	}
	for _, c := range []struct {
		beats int
		want  float64
	}{{4, 2}, {20, 2}, {40, 1.5}} {
		sound, of, mark := s.Latest(1, c.beats)
		if got := sound[1] / math.Sin(1); of < c.beats || math.Abs(got-c.want) > c.want/math.MaxInt16 || math.Abs(mark-40.25) > 1e-9 {
			t.Errorf("of %d beats: size %v at %v, want %v at 40.25", of, got, mark, c.want)
		}
	}
}

// TestStackerBreak expects what comes after a break not to be laid over what came
// before.
func TestStackerBreak(t *testing.T) {
	s := NewStacker(50, 50)
	for i := range 3 {
		s.Add(i&1, 1000*float64(i), sine(100, 1))
	}
	s.Break()
	s.Break()
	s.Add(0, 9000, sine(100, 1))
	blocks := s.Blocks()
	var beats [][2]int
	for _, b := range blocks {
		beats = append(beats, [2]int{b.Sides[0].Beats, b.Sides[1].Beats})
	}
	if want := [][2]int{{1, 1}, {1, 0}, {1, 0}}; !slices.Equal(beats, want) {
		t.Errorf("blocks of %v beats, want %v", beats, want)
	}
}

func BenchmarkCoded(b *testing.B) {
	x := sine(1<<16, 0.3)
	var c Coded
	for b.Loop() {
		c.Encode(x)
		c.Decode(x)
	}
}

// TestCodedRounds expects a sound back to within half a part in 32767 of its peak.
func TestCodedRounds(t *testing.T) {
	for _, size := range []float64{0, 1e-6, 0.3, 7} {
		x := sine(1000, size)
		y := make([]float32, len(x))
		var c Coded
		c.Encode(x)
		c.Decode(y)
		for i, v := range x {
			if off := math.Abs(float64(y[i] - v)); off > 0.51*size/math.MaxInt16 {
				t.Fatalf("size %v: sample %d is %v, want %v", size, i, y[i], v)
			}
		}
	}
}
