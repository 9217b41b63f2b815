package capture

import (
	"os/exec"
	"slices"
	"strings"
	"testing"

	"rundown/dsp/wavio"
)

// The arguments of the recorders, as their manuals have them.
func TestPrograms(t *testing.T) {
	f := wavio.Format{SampleRate: 96000, Channels: 2, BitsPerSample: 24}
	for name, want := range map[string]string{
		"arecord": "-q -t raw -f S24_3LE -r 96000 -c 2 -D desk",
		"sox":     "-q -D -t alsa desk -t raw -e signed -L -b 24 -r 96000 -c 2 -",
		"ffmpeg":  "-hide_banner -loglevel error -nostdin -f alsa -i desk -ar 96000 -ac 2 -f s24le -",
	} {
		if got := strings.Join(programs[name].args("desk", f), " "); got != want {
			t.Errorf("%s: %s", name, got)
		}
	}
	for system, want := range map[string][2]string{"darwin": {"avfoundation", ":desk"}, "windows": {"dshow", "audio=desk"}} {
		if kind, device := ffmpegInput(system, "desk"); kind != want[0] || device != want[1] {
			t.Errorf("%s: %s %s", system, kind, device)
		}
	}
}

// What the recorders take is understood by them: an option that they do not know
// would show at once.
func TestProgramsKnowTheirArguments(t *testing.T) {
	for _, name := range programNames("linux") {
		path, err := exec.LookPath(name)
		if err != nil {
			t.Logf("skipped: %s is not installed", name)
			continue
		}
		out, _ := exec.Command(path, programs[name].args("nothing-of-that-name", wavio.Format{SampleRate: 48000, Channels: 1, BitsPerSample: 16})...).CombinedOutput()
		text := strings.ToLower(string(out))
		if !strings.Contains(text, "nothing-of-that-name") || strings.Contains(text, "option") || strings.Contains(text, "usage") {
			t.Errorf("%s: %s", name, out)
		}
	}
}

// The devices that ffmpeg lists, as it writes them on either system (from memory).
func TestListedDevices(t *testing.T) {
	for system, said := range map[string]string{
		"darwin":  "[AVFoundation indev @ 0x7f] AVFoundation audio devices:\n[AVFoundation indev @ 0x7f] [0] Built-in Microphone\n[AVFoundation indev @ 0x7f] [1] Desk\n",
		"windows": "[dshow @ 01] \"Built-in Microphone\" (audio)\n[dshow @ 01]   Alternative name \"@device_cm\"\n[dshow @ 01] \"Eye\" (video)\n[dshow @ 01] \"Desk\" (audio)\n",
	} {
		var names []string
		for _, m := range ffmpegDevice[system].FindAllStringSubmatch(said, -1) {
			names = append(names, m[1])
		}
		if !slices.Equal(names, []string{"Built-in Microphone", "Desk"}) {
			t.Errorf("%s: %q", system, names)
		}
	}
}

// Where there is nothing to record with, it says what to install.
func TestNothingToRecordWith(t *testing.T) {
	t.Setenv("PATH", "")
	t.Setenv("PULSE_SERVER", "unix:/nowhere/at/all")
	if _, err := Open(t.Context(), Settings{}); err == nil || !strings.Contains(err.Error(), "install") {
		t.Errorf("error %v", err)
	}
	if _, err := Devices(); err == nil || !strings.Contains(err.Error(), "install") {
		t.Errorf("error %v", err)
	}
	if _, err := Open(t.Context(), Settings{Through: "sox"}); err == nil || !strings.Contains(err.Error(), "sox is not here: it is not installed") {
		t.Errorf("error %v", err)
	}
}

// What a stream holds is kept without loss.
func TestStored(t *testing.T) {
	for _, c := range []struct {
		bits  int
		float bool
		want  int
	}{{8, false, 16}, {16, false, 16}, {24, false, 24}, {32, false, 32}, {32, true, 32}, {64, true, 32}} {
		if got := stored(wavio.Format{BitsPerSample: c.bits, Float: c.float}); got.BitsPerSample != c.want || got.Float != (c.want == 32) {
			t.Errorf("%d bits, float %v: %+v", c.bits, c.float, got)
		}
	}
}
