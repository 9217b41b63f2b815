package calibrate

import "math"

// tracker finds ticks and pulses. It learns their sound from the first stretch
// that holds some, then looks for each where it is expected; where they stay
// away it learns anew.
type tracker struct {
	rate, nominal float64 // frames a second, and from tick to tick

	x     []float32
	first int64 // frame of x[0]
	from  int64 // frame from which on to learn

	learned
	following bool
	tick      int64   // number of the next tick
	next      float64 // frame at which it is expected
	seen      float64 // frame of the last one
	missing   int     // in a row
	fresh     bool    // the next mark is displaced against those before
	started   bool    // there was a mark
	count     float64 // of ticks followed since learning
}

func newTracker(hz, rate float64) *tracker {
	return &tracker{rate: rate, nominal: rate / hz}
}

// stretch is how many frames are learnt from.
func (t *tracker) stretch() int {
	return int(max(20*t.rate, 10*t.nominal))
}

func (t *tracker) append(x []float32, found func(Mark)) {
	t.x = append(t.x, x...)
	t.work(found, false)
}

func (t *tracker) flush(found func(Mark)) {
	t.work(found, true)
}

// work goes on as far as the frames reach.
func (t *tracker) work(found func(Mark), end bool) {
	for {
		if !t.following {
			x := t.x[min(t.from-t.first, int64(len(t.x))):]
			if len(x) < t.stretch() && !end || float64(len(x)) < 7*t.nominal {
				return
			}
			if !t.learnAnew(x[:min(len(x), t.stretch())]) {
				// Half of it may hold the first ticks of more to come.
				t.from += int64(t.stretch() / 2)
				t.forget(t.from)
				continue
			}
		}
		before, after := t.matcher.Span()
		if t.next+float64(after) > float64(t.first)+float64(len(t.x)) {
			t.forget(int64(t.next-t.window()) - int64(before) - int64(t.nominal))
			return
		}
		t.look(found)
	}
}

// forget drops the frames before the given one.
func (t *tracker) forget(before int64) {
	// Moving what is left costs time, so it is not done for little.
	n := int(min(max(before-t.first, 0), int64(len(t.x))))
	if n < len(t.x)/2 {
		return
	}
	t.x = append(t.x[:0], t.x[n:]...)
	t.first += int64(n)
}

// learnAnew learns from x, the frames from t.from on.
func (t *tracker) learnAnew(x []float32) bool {
	l, ok := learn(x, t.from, t.rate, t.nominal)
	if !ok {
		return false
	}
	if t.started {
		// Whole periods have passed, by the count that the old ticks had.
		t.tick += int64(math.Round((l.first - t.next) / l.period))
		t.fresh = true
	}
	t.learned, t.following = l, true
	t.next, t.missing, t.count = l.first, 0, 0
	t.seen = l.first
	return true
}

// window is how far from its expected place the next tick is looked for.
func (t *tracker) window() float64 {
	const unsteady = 5e-6 // by how much the clock may have changed unseen
	away := t.next - t.seen
	return min(max(searchWindow*t.rate, 8*t.sigma)+unsteady*away, t.nominal/4, learnWindow*t.rate)
}

// patience is how long ticks may stay away before they are learnt anew, s.
const patience = 30

// look looks for the next tick.
func (t *tracker) look(found func(Mark)) {
	m, ok := t.matcher.Find(t.x, t.first, t.next, t.window())
	if ok && m.Rho >= 0.6*t.likely && m.SNR >= 5 {
		found(Mark{Frame: m.Frame, Seconds: float64(t.tick) * t.nominal / t.rate, Fresh: t.fresh})
		t.follow(m.Frame)
		t.fresh, t.started, t.missing = false, true, 0
	} else {
		t.missing++
		t.next += t.period
	}
	t.tick++
	if float64(t.missing)*t.nominal > max(patience*t.rate, 10*t.nominal) {
		t.following, t.from = false, int64(t.next-t.nominal/2)
	}
}

// follow moves the expectation on after a tick at the given frame. The gains
// are those of a line fitted to all ticks since learning, and later forget what
// is long past.
func (t *tracker) follow(frame float64) {
	t.count++
	n := min(t.count+10, 100)
	off := frame - t.next
	steps := math.Round((frame-t.seen)/t.period) + 1
	t.period += 6 / (n * (n + 1)) * off / max(1, steps/2)
	t.next += (4*n - 2) / (n * (n + 1)) * off
	t.next += t.period
	t.seen = frame
}
