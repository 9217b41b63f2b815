package rate

import (
	"math"

	"gonum.org/v1/gonum/mat"

	"rundown/analysis/beat"
)

// fewestAtEnd is the fewest beats of a stretch in a window from which its
// instant is read there.
const fewestAtEnd = 8

// tally adds up the running time of a run and the beats in it, jumps left out:
// each stretch between jumps counts from its first beat to its last, both
// taken from the local fit, and from there to the next stretch by the local
// interval, or where that is far, less what the beats slipped meanwhile, unless they stood
// still. Time over beats is then the mean over time of the
// running rate: of a run-down, the more of it the better.
type tally struct {
	time     float64 // of closed stretches, s
	variance float64 // of time, s², without what the last window adds
	beats    int64

	jumps       []jump // from each stretch to the next one
	open        bool
	run         int  // number of the open stretch
	first, last mark // its ends so far
	// What the last window adds to variance, s²: if the open stretch ends
	// there, and if it goes on.
	ends, goesOn float64
	pace         float64 // interval between beats where the last fit ends, s

	teeth   toothed
	offset  float64 // sum of the jumps passed, s
	offsets []float64
}

// mark is a fitted instant.
type mark struct {
	beat int64
	time float64 // s
}

// add counts the fitted window. It leaves in offsets, for each of its
// segments, how far the jumps since the start of the run have displaced it;
// NaN for those too short to tell.
func (t *tally) add(f *fitter, interval float64) {
	t.offsets = t.offsets[:0]
	t.teeth.add(&f.teeth, 2*f.span)
	var (
		sum    vector   // signed levers of the ends in this window but the last one
		shares float64  // squared shares of intercepts therein
		tail   *segment // the last segment
		begins bool     // a stretch begins in tail
		bent   float64  // variance that the bend at its end adds, s²
	)
	for i := range f.segments {
		s := &f.segments[i]
		if f.counting(s) < fewestAtEnd {
			t.offsets = append(t.offsets, math.NaN())
			continue
		}
		fresh := !t.open || t.run != s.run
		switch {
		case tail != nil:
			sum = plus(sum, 1, f.lever(tail, t.last.beat))
			if !begins {
				shares += 1 / tail.sw
			}
		case t.open && fresh:
			t.variance += t.ends
		case t.open:
			t.variance += t.goesOn
		}
		if fresh {
			first := f.mark(s, f.points[s.first].index)
			off, variance := f.bent(s, f.points[s.first:min(s.last, s.first+endBeats)], first.beat)
			first.time += off
			local := interval
			if t.open && first.beat-t.last.beat <= endBeats { // no curve is to be trusted farther
				local = f.across(tail, s, t.last.beat, first.beat)
			}
			t.begin(s.run, first, local)
			t.variance += variance
			sum = plus(sum, -1, f.lever(s, t.first.beat))
		}
		t.last = f.mark(s, f.points[s.last-1].index)
		off, variance := f.bent(s, f.points[max(s.first, s.last-endBeats):s.last], t.last.beat)
		t.last.time += off
		tail, begins, bent = s, fresh, variance
		t.offsets = append(t.offsets, t.offset)
	}
	if tail == nil {
		return
	}
	// The last beats may come after a jump, too few for a stretch of their own: they count
	// by the curve, as far as that is to be trusted.
	if end := f.points[len(f.points)-1].index; end > t.last.beat && end-t.last.beat <= endBeats {
		t.last.time += f.mark(tail, end).time - f.mark(tail, t.last.beat).time
		t.last.beat = end
	}
	t.pace = f.mark(tail, t.last.beat).time - f.mark(tail, t.last.beat-1).time
	// The intercept of a segment with both ends of a stretch drops out.
	going, ending := 0., 1/tail.sw
	if begins {
		going, ending = ending, going
	}
	t.goesOn = f.variance(sum, shares+going)
	t.ends = f.variance(plus(sum, 1, f.lever(tail, t.last.beat)), shares+ending) + bent
}

// extend counts the beats after the last fit, too few for one, where the open stretch goes
// on in them: before a stop, the rate of a handful of beats is far from that of the run.
// When the last one came, the end of the fit foretells; where each of the last few beats
// was plainly off that, it is the beats that tell. jitter is that of the last fit, s.
func (t *tally) extend(beats []beat.Beat, runs []int, jitter float64) {
	const few = 4
	n := len(beats)
	for n > 0 && !beats[n-1].Heard {
		n--
	}
	if n == 0 || !t.open || beats[n-1].Index <= t.last.beat || beats[n-1].Index > t.last.beat+2*endBeats || runs[n-1] != t.run {
		return
	}
	last := beats[n-1].Index
	off, variance := math.Inf(1), 0.875*jitter*jitter
	for i := n - 1; i >= n-few; i-- {
		came, ok := freeOfSides(beats[:i+1], runs[:i+1])
		by := came - t.last.time - t.pace*float64(beats[max(i, 0)].Index-t.last.beat)
		if !ok || by*by < plainBend*plainBend*variance {
			off = 0
			break
		}
		if i == n-1 {
			off = by
		}
	}
	if off != 0 {
		t.ends = t.goesOn + variance
	}
	t.last = mark{last, t.last.time + t.pace*float64(last-t.last.beat) + off}
}

// freeOfSides returns when the last of some beats came, were it not for the beat error, by
// that and the two before it; false where these do not follow each other.
func freeOfSides(beats []beat.Beat, runs []int) (at float64, ok bool) {
	n := len(beats)
	if n < 3 {
		return 0, false
	}
	a, b, c := beats[n-3], beats[n-2], beats[n-1]
	ok = a.Heard && b.Heard && c.Heard && a.Index+2 == c.Index && runs[n-3] == runs[n-1]
	return (a.Time+2*b.Time+c.Time)/4 + (c.Time-a.Time)/2, ok
}

// across returns the mean interval between two beats on either side of a jump, from the
// last of a segment, nil where that is in another window, to the first of the next one:
// that of the fitted curve there, which is not the window's where the rate changes fast.
func (f *fitter) across(before, after *segment, last, first int64) float64 {
	over := f.mark(after, first).time - f.mark(after, last).time
	if before != nil {
		over = (over + f.mark(before, first).time - f.mark(before, last).time) / 2
	}
	return over / float64(first-last)
}

// endBeats is how many beats at the end of a stretch tell whether it bends there more
// than the window's fit does.
const endBeats = 24

// bent returns by how much the beats at an end of a segment, ps, come later than the
// fit at a beat, s, and the variance of that: 0 where it is not plain. A movement that
// is about to stop loses more from beat to beat than the cubic of its last window.
func (f *fitter) bent(s *segment, ps []point, at int64) (off, variance float64) {
	if s.last-s.first < 2*endBeats {
		return 0, 0
	}
	rows, r := mat.NewDense(len(ps), 3, nil), mat.NewVecDense(len(ps), nil)
	var all float64
	for _, p := range ps {
		all += p.w
	}
	for i, p := range ps { // by the fit's weights: what is far out of place counts as little here
		w := math.Sqrt(p.w)
		if all < float64(len(ps))/2 { // but most of them are: it is the fit that is
			w = 1
		}
		rows.SetRow(i, []float64{w, w * float64(p.index-at), w * p.z[side]})
		r.SetVec(i, w*p.r)
	}
	var qr mat.QR
	qr.Factorize(rows)
	var c mat.VecDense
	if qr.SolveVecTo(&c, false, r) != nil {
		return 0, 0
	}
	var fitted mat.VecDense
	fitted.MulVec(rows, &c)
	fitted.SubVec(r, &fitted)
	var square mat.SymDense
	square.SymOuterK(1, rows.T())
	var inverse mat.Dense
	if inverse.Inverse(&square) != nil {
		return 0, 0
	}
	off = c.AtVec(0)
	variance = mat.Dot(&fitted, &fitted) / float64(len(ps)-3) * inverse.At(0, 0)
	if off*off < plainBend*plainBend*variance {
		return 0, 0
	}
	return off, variance
}

// begin closes the open stretch and opens the next one, at first.
func (t *tally) begin(run int, first mark, interval float64) {
	if t.open {
		t.time += t.last.time - t.first.time
		t.beats += t.last.beat - t.first.beat
		between := first.beat - t.last.beat
		t.offset += first.time - t.last.time - interval*float64(between)
		if between <= endBeats {
			t.time += interval * float64(between)
			t.beats += between
		} else if slipped, ok := t.slipped(run); ok {
			t.time += first.time - t.last.time - slipped
			t.beats += between
		}
	}
	t.open, t.run, t.first = true, run, first
}

// slipped returns by how much the beats slipped from the open stretch to a later one, s;
// false where they did not go on all the time.
func (t *tally) slipped(run int) (shift float64, ok bool) {
	for _, j := range t.jumps[t.run:run] {
		if !j.slips {
			return 0, false
		}
		shift += j.shift
	}
	return shift, true
}

// total returns the running time in seconds, its variance, and the beats in
// it, the open stretch included.
func (t *tally) total() (time, variance float64, beats int64) {
	return t.time + t.last.time - t.first.time, t.variance + t.ends + t.teeth.sd*t.teeth.sd, t.beats + t.last.beat - t.first.beat
}
