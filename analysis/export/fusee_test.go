package export

import (
	"encoding/json"
	"math"
	"strings"
	"testing"

	"rundown/analysis/fusee"
)

// madeFusee is a spring and its fusee; without options, the spring alone.
func madeFusee(t *testing.T, o *fusee.Options, units fusee.Units) *fusee.Result {
	t.Helper()
	table := &fusee.Table{Turns: []float64{0, 1, 2, 3, 4, 5, 6, 7}, Down: []float64{650, 550, 510, 475, 440, 405, 355, 250}}
	r, err := fusee.New(fusee.Input{Table: table, TablePath: "torque.csv", Uneven: 20, Options: o, Units: units})
	if err != nil {
		t.Fatal(err)
	}
	return r
}

func fuseeOptions() *fusee.Options {
	return &fusee.Options{BarrelDiameter: 32, Chain: 1.1, ChainWidth: 1.1, Turns: 5.5, SetUp: 1, Pitch: 1.4, Step: 0.5, Rounding: 0.01}
}

func TestFuseeProfile(t *testing.T) {
	r := madeFusee(t, fuseeOptions(), fusee.Units{Inches: true})
	var plain, inches strings.Builder
	if err := FuseeProfile(&plain, r.Fusee, fusee.Units{}); err != nil {
		t.Fatal(err)
	}
	if err := FuseeProfile(&inches, r.Fusee, fusee.Units{Inches: true}); err != nil {
		t.Fatal(err)
	}
	lines := strings.Split(strings.TrimSpace(plain.String()), "\n")
	if lines[0] != "turn,axial_mm,radius_mm" || len(lines) != 13 || !strings.HasPrefix(lines[1], "0.0000,0.0000,") || !strings.HasPrefix(lines[12], "5.5000,7.7000,") {
		t.Errorf("%q", lines)
	}
	if !strings.HasPrefix(inches.String(), "turn,axial_mm,radius_mm,axial_in,radius_in\n") || !strings.Contains(inches.String(), "5.5000,7.7000,") || !strings.Contains(inches.String(), ",0.30315,") {
		t.Errorf("%s", inches.String())
	}
}

func TestFuseeJSON(t *testing.T) {
	for _, o := range []*fusee.Options{fuseeOptions(), nil} {
		r := madeFusee(t, o, fusee.Units{Inches: true, Grams: true}) // which change nothing for scripts
		var b strings.Builder
		if err := FuseeJSON(&b, r, map[string]string{"summary": SummaryName}); err != nil {
			t.Fatal(err)
		}
		var got map[string]any
		if err := json.Unmarshal([]byte(b.String()), &got); err != nil {
			t.Fatal(err)
		}
		for name, want := range map[string]float64{"chain_mm": 0, "barrel_turns": 5.5, "set_up_turns": 1, "largest_radius_mm": 0, "least_radius_mm": 0, "torque_nmm": 0, "left_over_percent": 0} {
			x, there := got[name]
			if !there {
				t.Fatalf("no %s", name)
			}
			if o == nil {
				if x != nil {
					t.Errorf("%s is %v without a fusee", name, x)
				}
			} else if v := x.(float64); !(v > 0) || want > 0 && math.Abs(v-want) > 1e-9 {
				t.Errorf("%s is %v", name, x)
			}
		}
		if o != nil && (math.Abs(got["torque_nmm"].(float64)-r.Fusee.Torque) > 1e-6 || math.Abs(got["chain_mm"].(float64)-r.Fusee.Chain) > 1e-6) {
			t.Errorf("torque_nmm %v, chain_mm %v", got["torque_nmm"], got["chain_mm"])
		}
	}
}

func TestFuseeText(t *testing.T) {
	var b strings.Builder
	if err := FuseeText(&b, madeFusee(t, fuseeOptions(), fusee.Units{Inches: true, Grams: true}), "out"); err != nil {
		t.Fatal(err)
	}
	text := b.String()
	if !strings.HasPrefix(text, "Caution      A mainspring under power") {
		t.Errorf("the caution does not come first:\n%s", text)
	}
	for _, want := range []string{" gf·cm at full wind", " in at the large end", "Results      out\n", "* "} {
		if !strings.Contains(text, want) {
			t.Errorf("it does not say %q:\n%s", want, text)
		}
	}
	for line := range strings.Lines(text) {
		if n := len([]rune(line)); n > textWidth+40 {
			t.Errorf("a line of %d: %s", n, line)
		}
	}
}
