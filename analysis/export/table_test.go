package export

import (
	"bytes"
	"encoding/csv"
	"errors"
	"io"
	"math"
	"reflect"
	"testing"

	"rundown/analysis"
	"rundown/analysis/beat"
	"rundown/analysis/rate"
)

// records reads a table back with encoding/csv, the oracle for the form.
func records(t *testing.T, text string) [][]string {
	t.Helper()
	rows, err := csv.NewReader(bytes.NewBufferString(text)).ReadAll()
	if err != nil {
		t.Fatalf("%v in\n%s", err, text)
	}
	return rows
}

func check(t *testing.T, text string, want [][]string) {
	t.Helper()
	if got := records(t, text); !reflect.DeepEqual(got, want) {
		t.Errorf("got\n%q\nwant\n%q", got, want)
	}
}

var nan = math.NaN()

func TestBeats(t *testing.T) {
	var b bytes.Buffer
	err := NewBeats(&b).Append([]analysis.Row{
		{Beat: beat.Beat{Index: 0, Time: 0.25, Level: -20.125, Side: beat.Tick, Heard: true}, Interval: nan, Residual: -12.5e-6},
		{Beat: beat.Beat{Index: 1, Time: 0.45, Side: beat.Tock}, Interval: 0.2, Residual: nan},
	})
	if err != nil {
		t.Fatal(err)
	}
	check(t, b.String(), [][]string{
		{"beat", "elapsed_s", "side", "heard", "interval_s", "residual_ms", "level_db"},
		{"0", "0.250000000", "tick", "1", "", "-0.012500", "-20.12"},
		{"1", "0.450000000", "tock", "0", "0.200000000", "", ""},
	})
}

func TestWindows(t *testing.T) {
	none := rate.Value{X: nan, SE: nan}
	ws := []rate.Window{
		{Start: 0, End: 60, Beats: 300, Heard: 299, Period: rate.Value{X: 0.4, SE: 1e-9}, Rate: rate.Value{X: -1.5, SE: 0.25},
			BeatError: rate.Value{X: 1e-3, SE: 2e-6}, Amplitude: rate.Value{X: 9e-3, SE: 1e-5}, Level: rate.Value{X: -31}, Lift: rate.Value{X: 8.5e-3, SE: 1.5e-5}},
		{Start: 60, End: 71.5, Period: none, Rate: none, BeatError: none, Amplitude: none, Level: none, Lift: none},
	}
	header := []string{"start_s", "end_s", "beats", "heard", "period_s", "period_se_s", "rate_s_per_day", "rate_se_s_per_day",
		"beat_error_ms", "beat_error_se_ms", "amplitude", "amplitude_se", "level_db", "rate_clock_se_s_per_day", "lift_ms", "lift_se_ms"}
	empty := []string{"60.000000", "71.500000", "0", "0", "", "", "", "", "", "", "", "", "", "", "", ""}
	for kind, amplitude := range map[rate.AmplitudeKind][2]string{rate.LiftTime: {"9.0000", "0.0100"}, rate.Degrees: {"0.0090", "0.0000"}} {
		var b bytes.Buffer
		if err := Windows(&b, ws, []float64{0.02, nan}, kind); err != nil {
			t.Fatal(err)
		}
		check(t, b.String(), [][]string{header,
			{"0.000000", "60.000000", "300", "299", "0.400000000000", "0.000000001000", "-1.500000", "0.250000",
				"1.000000", "0.002000", amplitude[0], amplitude[1], "-31.00", "0.020000", "8.50000", "0.01500"}, empty})
	}
}

func TestEvents(t *testing.T) {
	var b bytes.Buffer
	err := NewEvents(&b).Append([]beat.Event{{Kind: beat.Late, Beat: 7, Start: 1.5, End: 1.5, Shift: 4.2e-3, Note: "a \"tooth\", perhaps\nbent"}})
	if err != nil {
		t.Fatal(err)
	}
	check(t, b.String(), [][]string{
		{"kind", "beat", "start_s", "end_s", "shift_ms", "note"},
		{"late", "7", "1.500000", "1.500000", "4.2000", "a \"tooth\", perhaps\nbent"},
	})
}

func TestRecurrences(t *testing.T) {
	var b bytes.Buffer
	err := Recurrences(&b, []analysis.Recurrence{{Kind: "events", PeriodBeats: 30, PhaseBeats: 17, Occurrences: 9, Opportunities: 41,
		Size: 4, PValue: 1.234e-12, Match: "escape wheel, one turn"}})
	if err != nil {
		t.Fatal(err)
	}
	check(t, b.String(), [][]string{
		{"kind", "period_beats", "phase_beats", "occurrences", "opportunities", "size_ms", "p_value", "match", "note"},
		{"events", "30.0000", "17.00", "9", "41", "4.0000", "1.23e-12", "escape wheel, one turn", ""},
	})
}

// fullWriter fails after the header, once.
type fullWriter struct{ writes int }

var errFull = errors.New("full")

func (w *fullWriter) Write(p []byte) (int, error) {
	if w.writes++; w.writes == 2 {
		return 0, errFull
	}
	return len(p), nil
}

func TestTableErrorsStick(t *testing.T) {
	w := new(fullWriter)
	b := NewBeats(w)
	for range 3 {
		if err := b.Append(make([]analysis.Row, 2)); err != errFull {
			t.Fatalf("Append: %v, want %v", err, errFull)
		}
	}
	if w.writes != 2 {
		t.Errorf("%d writes, want none after the one that failed", w.writes)
	}
}

// A night of 18 000 beats an hour.
func BenchmarkBeats(b *testing.B) {
	rows := make([]analysis.Row, 144000)
	for i := range rows {
		rows[i] = analysis.Row{Beat: beat.Beat{Index: int64(i), Time: 0.2000123 * float64(i), Level: -23.4, Heard: true, Side: beat.Side(i & 1)},
			Interval: 0.2000123, Residual: float64(i%100) * 1e-6}
	}
	for b.Loop() {
		if err := NewBeats(io.Discard).Append(rows); err != nil {
			b.Fatal(err)
		}
	}
}
