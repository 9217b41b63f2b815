package fusee

import (
	"math"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"
)

func TestParse(t *testing.T) {
	for _, c := range []struct {
		what, text string
		grams      bool
		want       Table
	}{
		{"plain", "turns,torque_nmm\n0,900\n1,800.5\n2,7e2\n", false, Table{[]float64{0, 1, 2}, []float64{900, 800.5, 700}, nil}},
		{"other order, more columns", "note,Torque_Nmm, turns\nx,900,0\n,800,1\n\"a, b\",700,2\n", false, Table{[]float64{0, 1, 2}, []float64{900, 800, 700}, nil}},
		{"both directions", "turns,up_nmm,down_nmm\n0,950,850\n1,840,760\n2,740,660\n", false, Table{[]float64{0, 1, 2}, []float64{850, 760, 660}, []float64{950, 840, 740}}},
		{"decimal commas", "turns;torque_nmm\n0;900\n0,5;850,25\n1;800\n", false, Table{[]float64{0, 0.5, 1}, []float64{900, 850.25, 800}, nil}},
		{"tabs, a mark at the start, carriage returns, empty rows, a comment", "\ufeffturns\ttorque_nmm\r\n# first winding\r\n0\t9,5\r\n\t\r\n1\t8.5\r\n2\t7\r\n", false, Table{[]float64{0, 1, 2}, []float64{9.5, 8.5, 7}, nil}},
		{"grams by name", "turns,torque_gcm\n0,1000\n1,500\n2,100\n", false, Table{[]float64{0, 1, 2}, []float64{98.0665, 49.03325, 9.80665}, nil}},
		{"grams by flag", "turns,torque\n0,1000\n1,500\n2,100\n", true, Table{[]float64{0, 1, 2}, []float64{98.0665, 49.03325, 9.80665}, nil}},
		{"the name before the flag", "turns,torque_nmm\n0,10\n1,5\n2,1\n", true, Table{[]float64{0, 1, 2}, []float64{10, 5, 1}, nil}},
	} {
		got, err := Parse(strings.NewReader(c.text), c.grams)
		if err != nil {
			t.Errorf("%s: %v", c.what, err)
			continue
		}
		near := func(a, b []float64) bool {
			return slices.EqualFunc(a, b, func(x, y float64) bool { return math.Abs(x-y) < 1e-9 })
		}
		if !near(got.Turns, c.want.Turns) || !near(got.Down, c.want.Down) || !near(got.Up, c.want.Up) {
			t.Errorf("%s: %+v, want %+v", c.what, *got, c.want)
		}
	}
}

func TestParseSaysWhatIsWrong(t *testing.T) {
	for text, want := range map[string]string{
		"":                                         "it is empty",
		"turns,force\n0,1\n":                       "line 1: it needs the columns",
		"turns,torque_nmm,torque_gcm\n0,1,1\n":     "line 1: two columns for torque",
		"turns,torque_nmm,up_nmm,down_nmm\n":       "line 1: it needs the columns",
		"turns,up_nmm\n0,1\n":                      "line 1: it needs the columns",
		"turns,torque_nmm\n0,9\n1,8\n":             "2 rows are too few",
		"turns,torque_nmm\n0,5,900\n1,5,800\n":     "line 2: 3 fields, where the header has 2; where commas are decimal points",
		"turns,torque_nmm\n0,7\n1,8\n2,9\n":        "turn the table round",
		"turns,torque_nmm\n0,9\n1,8\n1,7.5\n2,7\n": "line 4: 1 turns: they grow",
		"turns,torque_nmm\n-1,9\n1,8\n2,7\n":       "line 2: -1 turns",
		"turns,torque_nmm\n0,9\n1,-8\n2,7\n":       "line 3: a torque below 0",
		"turns,torque_nmm\n0,9\n1,8 Nmm\n2,7\n":    "line 3: a number is missing or is none",
		"turns,torque_nmm\n0,9\n1,\n2,7\n":         "line 3: a number is missing",
		"turns,torque_nmm\n0,NaN\n1,8\n2,7\n":      "line 2: a number is missing",
		"turns,torque_nmm\n0,inf\n1,8\n2,7\n":      "line 2: a number is missing",
		"turns,torque_nmm\n0,1e10\n1,8\n2,7\n":     "line 2: a number is missing",
		"turns,up_nmm,down_nmm\n0,8,9\n":           "line 2: up is less than down",
		"turns,torque_nmm\n0,\"9\n1,8\n":           "line",
	} {
		_, err := Parse(strings.NewReader(text), false)
		if err == nil || !strings.Contains(err.Error(), want) || strings.Contains(err.Error(), "\n") {
			t.Errorf("%q: %v, want %q", text, err, want)
		}
	}
}

func TestLoadNamesTheFile(t *testing.T) {
	dir := t.TempDir()
	path := filepath.Join(dir, "torque.csv")
	if err := os.WriteFile(path, []byte("turns,torque_nmm\n0,1\n"), 0o666); err != nil {
		t.Fatal(err)
	}
	for _, name := range []string{path, dir, filepath.Join(dir, "none.csv")} {
		if _, err := Load(name, false); err == nil || !strings.HasPrefix(err.Error(), name+": ") {
			t.Errorf("%s: %v", name, err)
		}
	}
}

func TestFriction(t *testing.T) {
	table := Table{Turns: []float64{0, 1, 2}, Down: []float64{850, 760, 660}, Up: []float64{950, 840, 740}}
	if f, ok := table.Friction(); !ok || math.Abs(f.Mean-800) > 1e-9 || math.Abs(f.Half-130./3) > 1e-9 {
		t.Errorf("%+v, %v", f, ok)
	}
	table.Up = nil
	if _, ok := table.Friction(); ok {
		t.Error("friction from one direction")
	}
}

// Whatever is in the file: an error of one line, or a table that all that follows can use.
func FuzzParse(f *testing.F) {
	for _, text := range []string{
		"turns,torque_nmm\n0,900\n1,800\n2,700\n", "turns;up_nmm;down_nmm\n0;9,5;9\n1;8;7\n2;7;6\n", "\ufeffturns\ttorque\n0\t1\n",
		"turns,torque_nmm\n0,1e9\n1e-300,1e-300\n1e9,0\n", "#\n", "\"turns\",torque_nmm\n\n", "turns,torque_nmm\n0,0\n1,0\n2,0\n",
	} {
		f.Add(text, false)
		f.Add(text, true)
	}
	f.Fuzz(func(t *testing.T, text string, grams bool) {
		table, err := Parse(strings.NewReader(text), grams)
		if err != nil {
			if strings.Contains(err.Error(), "\n") {
				t.Errorf("%q", err)
			}
			return
		}
		n := len(table.Turns)
		if n < fewestRows || len(table.Down) != n || table.Up != nil && len(table.Up) != n {
			t.Fatalf("%d turns, %d and %d torques", n, len(table.Down), len(table.Up))
		}
		table.Friction()
		c := NewCurve(table.Turns, table.Down, nil)
		if c.End()-c.Start() > 50 {
			return // no spring
		}
		StopWork(c, nil)
		o := sampleOptions()
		o.BarrelTurns = 0
		if made, err := Design(c, o); err == nil {
			for _, r := range made.Rows {
				if !(r.Radius > 0) || math.IsInf(r.Radius, 0) {
					t.Errorf("a radius of %v", r.Radius)
				}
			}
			made.Trials(c)
		}
	})
}
