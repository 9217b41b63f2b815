//go:build linux || darwin

package capture

import (
	"time"
)

// refusing is how long a command that can't keep the computer awake takes to say
// so.
const refusing = 300 * time.Millisecond

// KeepAwake keeps the computer from sleeping until release is called; false
// where it can't.
func KeepAwake() (release func(), ok bool) {
	cmd := awake()
	hold, err := cmd.StdinPipe()
	if err != nil {
		return func() {}, false
	}
	apart(cmd)
	if cmd.Start() != nil {
		return func() {}, false
	}
	ended := make(chan error, 1)
	go func() { ended <- cmd.Wait() }()
	select {
	case <-ended:
		return func() {}, false
	case <-time.After(refusing):
		return func() { hold.Close(); <-ended }, true
	}
}
