package main

import (
	"bytes"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"unicode"
)

// No name of a file reaches the terminal as a command, whatever the subcommand.
func TestNamesAreQuoted(t *testing.T) {
	t.Chdir(t.TempDir())
	const evil = "a\x1b[2J\u009b31m\u202e.wav"
	plain := record(t, "--duration", "19s", "--sample-rate", "8000")
	if err := os.Rename(plain, evil); err != nil {
		t.Skipf("skipped: no such names here: %v", err)
	}
	folder := strings.TrimSuffix(evil, filepath.Ext(evil)) + ".rundown"
	for _, c := range []struct {
		args []string
		code int
	}{
		{[]string{"analyse", evil}, exitOK},
		{[]string{"check", evil}, exitUnfit},
		{[]string{"analyse", "--train", evil, evil}, exitFailure},
		{[]string{"analyse", "--train", "none" + evil, evil}, exitFailure},
		{[]string{"analyse", "--out", evil, evil}, exitFailure},
		{[]string{"analyse", "none" + evil}, exitFailure},
		{[]string{"analyse", "--channel", "2", evil}, exitUsage},
		{[]string{"analyse", "--out" + evil, evil}, exitUsage},
		{[]string{"compare", evil, folder}, exitFailure},
		{[]string{"compare", "--window", "3s", evil, evil}, exitOK},
		{[]string{"calibrate", "--hz", "1.3", evil}, exitNoBeat},
		{[]string{"synth", "--duration", "1s", "new" + evil}, exitOK},
		{[]string{"synth", evil + "/" + evil}, exitFailure},
		{[]string{"demo", evil}, exitFailure},
		{[]string{"fusee", "--torque", evil}, exitFailure},
		{[]string{"fusee", evil}, exitFailure},
		{[]string{"fusee", folder}, exitFailure},
		{[]string{evil}, exitUsage},
	} {
		var out bytes.Buffer
		if code := run(t.Context(), c.args, nil, &out, &out); code != c.code {
			t.Errorf("%q: exit code %d, want %d: %s", c.args, code, c.code, out.String())
		}
		bad := func(r rune) bool { return !unicode.IsPrint(r) && r != '\n' && r != '\u00a0' }
		if text := out.String(); strings.ContainsFunc(text, bad) || c.args[0] != evil && !strings.Contains(text, `\x1b[2J`) {
			t.Errorf("%q: printed %q", c.args, text)
		}
	}
}
