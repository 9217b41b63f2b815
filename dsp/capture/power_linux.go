package capture

import (
	"os"
	"os/exec"
	"path/filepath"
	"strings"
)

// OnBattery reports whether the computer runs on a battery, as far as the system
// tells.
func OnBattery() bool {
	states, _ := filepath.Glob("/sys/class/power_supply/*/status") // the pattern is in order
	for _, path := range states {
		kind, _ := os.ReadFile(filepath.Join(filepath.Dir(path), "type"))
		scope, _ := os.ReadFile(filepath.Join(filepath.Dir(path), "scope"))
		state, _ := os.ReadFile(path)
		own := strings.TrimSpace(string(scope)) != "Device" // not that of a mouse
		if own && strings.TrimSpace(string(kind)) == "Battery" && strings.TrimSpace(string(state)) == "Discharging" {
			return true
		}
	}
	return false
}

// awake is the command that keeps the computer awake while another one runs: cat
// does until its input is closed, which happens whatever ends this program.
func awake() *exec.Cmd {
	return exec.Command("systemd-inhibit", "--what=idle:sleep:handle-lid-switch", "--who=rundown", "--why=a recording", "cat")
}
