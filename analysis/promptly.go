package analysis

import (
	"context"
	"time"
)

// grace is how long interrupted work is waited for.
const grace = 500 * time.Millisecond

// Promptly returns what do returns. Where ctx ends, and do goes on for long all
// the same, it is left to itself and to the end of the program, and the error is
// that of ctx.
func Promptly[T any](ctx context.Context, do func() (T, error)) (T, error) {
	type outcome struct {
		result T
		err    error
	}
	done := make(chan outcome, 1)
	go func() {
		result, err := do()
		done <- outcome{result, err}
	}()
	select {
	case o := <-done:
		return o.result, o.err
	case <-ctx.Done():
	}
	select {
	case o := <-done:
		return o.result, o.err
	case <-time.After(grace):
		var none T
		return none, ctx.Err()
	}
}
