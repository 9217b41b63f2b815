package capture

import (
	"bytes"
	"os/exec"
)

// OnBattery reports whether the computer runs on a battery, as far as the system
// tells.
func OnBattery() bool {
	said, err := exec.Command("pmset", "-g", "batt").Output()
	return err == nil && bytes.Contains(said, []byte("Battery Power"))
}

// awake is the command that keeps the computer awake while another one runs: cat
// does until its input is closed, which happens whatever ends this program.
func awake() *exec.Cmd { return exec.Command("caffeinate", "-i", "cat") }
