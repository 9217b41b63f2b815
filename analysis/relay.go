package analysis

import "rundown/analysis/beat"

// handful is how many beats are handed over at a time: waking a goroutine for
// each batch would cost more than the work on it.
const handful = 512

// relay hands batches over to a goroutine of its own, so that the next beats
// are followed while the last are measured. Batches are joined to handfuls by
// the number of their beats alone: what comes out does not depend on time.
type relay struct {
	filling *beat.Batch
	full    chan *beat.Batch
	empty   chan handed
}

// handed is a batch that was dealt with, empty again.
type handed struct {
	*beat.Batch
	err error // of the stages behind
}

// newRelay passes batches on to take, until it returns an error.
func newRelay(take func(*beat.Batch) error) *relay {
	r := &relay{filling: &beat.Batch{}, full: make(chan *beat.Batch), empty: make(chan handed, 1)}
	r.empty <- handed{Batch: &beat.Batch{}}
	go func() {
		defer close(r.empty)
		var err error
		for b := range r.full {
			if err == nil {
				err = take(b)
			}
			b.Reset()
			r.empty <- handed{b, err}
		}
	}()
	return r
}

// batch takes a copy of b. The error is that of a batch before.
func (r *relay) batch(b *beat.Batch) error {
	r.filling.Beats = append(r.filling.Beats, b.Beats...)
	r.filling.Events = append(r.filling.Events, b.Events...)
	r.filling.Lifts = append(r.filling.Lifts, b.Lifts...)
	if len(r.filling.Beats) < handful {
		return nil
	}
	return r.hand()
}

// hand hands over what was gathered.
func (r *relay) hand() error {
	next := <-r.empty
	r.full <- r.filling
	r.filling = next.Batch
	return next.err
}

// close hands over the rest and waits until all is dealt with. It must be
// called, and nothing after it.
func (r *relay) close() error {
	err := r.hand()
	close(r.full)
	for last := range r.empty {
		if err == nil {
			err = last.err
		}
	}
	return err
}
