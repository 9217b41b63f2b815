package analysis

import (
	"context"
	"errors"
	"slices"
	"testing"

	"rundown/analysis/beat"
	"rundown/dsp/wavio"
)

// counted returns a batch of n beats from a number on, with an event and a lift.
func counted(from, n int64) *beat.Batch {
	b := &beat.Batch{Events: []beat.Event{{Kind: beat.Extra, Beat: from}}, Lifts: []beat.Lift{{Time: float64(from)}}}
	for i := range n {
		b.Beats = append(b.Beats, beat.Beat{Index: from + i})
	}
	return b
}

// Everything arrives, in order, though the batches are used again at once.
func TestRelayPassesEverythingOn(t *testing.T) {
	for _, size := range []int64{1, handful - 1, handful, 3 * handful} {
		var got beat.Batch
		r := newRelay(func(b *beat.Batch) error {
			got.Beats = append(got.Beats, b.Beats...)
			got.Events = append(got.Events, b.Events...)
			got.Lifts = append(got.Lifts, b.Lifts...)
			return nil
		})
		var want beat.Batch
		const batches = 7
		for i := range int64(batches) {
			b := counted(i*size, size)
			want.Beats = append(want.Beats, b.Beats...)
			want.Events = append(want.Events, b.Events...)
			want.Lifts = append(want.Lifts, b.Lifts...)
			if err := r.batch(b); err != nil {
				t.Fatal(err)
			}
			clear(b.Beats)
			clear(b.Events)
			clear(b.Lifts)
		}
		if err := r.close(); err != nil {
			t.Fatal(err)
		}
		if !slices.Equal(got.Beats, want.Beats) || !slices.Equal(got.Events, want.Events) || !slices.Equal(got.Lifts, want.Lifts) {
			t.Errorf("batches of %d: %d beats, %d events and %d lifts arrived, not those sent", size, len(got.Beats), len(got.Events), len(got.Lifts))
		}
	}
}

// An error behind ends what follows: a full disk does not wait for the morning.
func TestRelayReturnsErrors(t *testing.T) {
	full := errors.New("full")
	taken := 0
	r := newRelay(func(*beat.Batch) error { taken++; return full })
	var err error
	sent := 0
	for ; err == nil && sent < 10; sent++ {
		err = r.batch(counted(int64(sent)*handful, handful))
	}
	if err != full || sent > 3 {
		t.Errorf("after %d batches: %v, want the error after three", sent, err)
	}
	if err := r.close(); err != full {
		t.Errorf("close: %v, want the error", err)
	}
	if taken != 1 {
		t.Errorf("%d batches were taken, though the first failed", taken)
	}
}

// A follower that ends with an error of its own leaves nothing running, and its
// error is the one that counts.
func TestRunOfBrokenRecording(t *testing.T) {
	unplugged := errors.New("unplugged")
	var sink table
	_, err := run(t.Context(), silence(), settings(), &sink, func(ctx context.Context, src wavio.Source, opt beat.Options, emit func(*beat.Batch) error) (beat.Report, error) {
		report, _ := scripted(movement, 300, 100)(ctx, src, opt, emit)
		return report, unplugged
	})
	if err != unplugged {
		t.Errorf("%v, want the source's error", err)
	}
	if len(sink.rows) == 0 {
		t.Error("what was heard before did not reach the sink")
	}
}
