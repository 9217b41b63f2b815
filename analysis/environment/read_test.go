package environment

import (
	"math"
	"strings"
	"testing"
	"time"
	"unicode/utf16"
)

// tables are logs as loggers write them, all of the same three readings.
var tables = map[string]struct {
	text   string
	format Format
}{
	"comma":           {"time,temperature (°C),humidity (%)\n2031-05-04T21:30:00,21.5,40\n2031-05-04T21:40:00,21.25,41\n2031-05-04T21:50:00,21,42\n", Format{}},
	"semicolon":       {"Zeit;Temperature [°C];Humidity [%]\r\n04.05.2031 21:30:00;21,5;40,0\r\n04.05.2031 21:40:00;21,25;41,0\r\n04.05.2031 21:50:00;21,0;42,0\r\n", Format{}},
	"tab":             {"time\ttemperature_°C\thumidity_%\n2031/05/04 21:30\t21,5\t40\n2031/05/04 21:40\t21,25\t41\n2031/05/04 21:50\t21\t42\n", Format{}},
	"quoted decimals": {"time,temperature (°C),humidity (%)\n2031-05-04 21:30,\"21,5\",40\n2031-05-04 21:40,\"21,25\",41\n2031-05-04 21:50,\"21\",42\n", Format{}},
	"preamble":        {"Logger;XY-3\nSerial;12345\n\nNo.;Date;Time;Temperature (C);Humidity (%RH);Remark\n1;04.05.2031;21:30:00;21,5;40;ok\n2;04.05.2031;21:40:00;21,25;41;ok\n3;04.05.2031;21:50:00;21;42;ok\n", Format{}},
	"newest first":    {"time,temperature (°C),humidity (%)\n2031-05-04 21:50,21,42\n2031-05-04 21:40,21.25,41\n2031-05-04 21:30,21.5,40\n", Format{}},
	"half days":       {"date,time,temperature (°C),humidity (%)\n05/04/2031,9:30 PM,21.5,40\n05/04/2031,9:40 PM,21.25,41\n05/04/2031,9:50 PM,21,42\n", Format{Times: "mdy"}},
	"pipe":            {"time|temperature (°C)|humidity (%)\n2031-05-04 21:30|21.5|40\n2031-05-04 21:40|21.25|41\n2031-05-04 21:50|21|42\n", Format{}},
	"other separator": {"time#temperature (°C)#humidity (%)\n2031-05-04 21:30#21.5#40\n2031-05-04 21:40#21.25#41\n2031-05-04 21:50#21#42\n", Format{Separator: "#"}},
}

func TestParse(t *testing.T) {
	for name, c := range tables {
		for _, text := range []string{c.text, "\xef\xbb\xbf" + c.text, latin1(c.text), utf16le(c.text)} {
			log, err := Parse("log.csv", []byte(text), c.format)
			if err != nil {
				t.Errorf("%s: %v", name, err)
				continue
			}
			if len(log.Columns) != 2 || log.Columns[0].Name != "temperature" || log.Columns[0].Unit != "°C" || log.Columns[1].Name != "humidity" || log.Columns[1].Unit != "%" {
				t.Errorf("%s: columns %+v", name, log.Columns)
				continue
			}
			for i, want := range []float64{21.5, 21.25, 21} {
				at := time.Date(2031, 5, 4, 21, 30+10*i, 0, 0, time.UTC)
				if log.Columns[0].Values[i] != want || log.Columns[1].Values[i] != 40+float64(i) || !log.Times[i].Equal(at) || log.Elapsed || log.Zoned {
					t.Errorf("%s: row %d is %v at %v", name, i, log.Columns[0].Values[i], log.Times[i])
				}
			}
		}
	}
}

func latin1(text string) string {
	var b []byte
	for _, r := range text {
		b = append(b, byte(r))
	}
	return string(b)
}

func utf16le(text string) string {
	b := []byte{0xff, 0xfe}
	for _, u := range utf16.Encode([]rune(text)) {
		b = append(b, byte(u), byte(u>>8))
	}
	return string(b)
}

func TestParseTimes(t *testing.T) {
	cases := map[string]struct {
		header, first, second string
		format                Format
		seconds               float64 // between them
		elapsed, zoned        bool
	}{
		"zone":             {"time", "2031-05-04T21:30:00+02:00", "2031-05-04T21:30:30+02:00", Format{}, 30, false, true},
		"across a change":  {"time", "2031-10-26T02:59:30+02:00", "2031-10-26T02:00:00+01:00", Format{}, 30, false, true},
		"UTC":              {"time", "2031-05-04 21:30:00Z", "2031-05-04 21:30:00.5Z", Format{}, 0.5, false, true},
		"unix":             {"timestamp", "1935689400", "1935689460", Format{}, 60, false, true},
		"unix ms":          {"timestamp", "1935689400000", "1935689400500", Format{}, 0.5, false, true},
		"seconds":          {"elapsed (s)", "0", "12.5", Format{}, 12.5, true, false},
		"minutes":          {"time_min", "10", "11", Format{}, 60, true, false},
		"hours, told":      {"t", "0", "0.5", Format{Times: "h"}, 1800, true, false},
		"elapsed":          {"elapsed", "0:00:10", "26:00:10", Format{}, 93600, true, false},
		"elapsed, told":    {"time", "0:00:10", "0:01:10", Format{Times: "elapsed"}, 60, true, false},
		"day first":        {"time", "28/05/2031 21:30", "29/05/2031 21:30", Format{}, 86400, false, false},
		"month first":      {"time", "05/28/2031 21:30", "05/29/2031 21:30", Format{}, 86400, false, false},
		"by their order":   {"time", "30/04/2031 21:30", "01/05/2031 21:30", Format{}, 86400, false, false},
		"same either way":  {"time", "05/05/2031 21:30", "05/05/2031 21:31", Format{}, 60, false, false},
		"two-digit years":  {"time", "28.05.31 21:30", "28.05.31 21:31", Format{}, 60, false, false},
		"noon to midnight": {"time", "2031-05-04 12:30 PM", "2031-05-05 12:30 AM", Format{}, 43200, false, false},
	}
	for name, c := range cases {
		log, err := Parse("log.csv", []byte(c.header+";temp\n"+c.first+";1\n"+c.second+";2\n"), c.format)
		if err != nil {
			t.Errorf("%s: %v", name, err)
			continue
		}
		if got := log.Times[1].Sub(log.Times[0]).Seconds(); math.Abs(got-c.seconds) > 1e-6 || log.Elapsed != c.elapsed || log.Zoned != c.zoned {
			t.Errorf("%s: %v s, elapsed %v, zoned %v", name, got, log.Elapsed, log.Zoned)
		}
	}
}

func TestParseRefuses(t *testing.T) {
	cases := map[string]struct {
		text   string
		format Format
		want   string
	}{
		"nothing":          {"", Format{}, "no table"},
		"prose":            {"It was warm.\nThen it was cold.\n", Format{}, "no table"},
		"either day":       {"time;temp\n01/02/2031 10:00;1\n01/02/2031 11:00;2\n", Format{}, "dmy or mdy"},
		"time of day":      {"time;temp\n10:00:00;1\n10:01:00;2\n", Format{}, "date"},
		"bare numbers":     {"t;temp\n0;1\n10;2\n", Format{}, "unix"},
		"bare commas":      {"time,temp\n2031-05-04 10:00,21,5\n2031-05-04 10:01,21,6\n", Format{}, "line 2 has 3 fields"},
		"broken time":      {"time;temp\n2031-05-04 10:00;1\n2031-05-34 10:01;2\n", Format{}, "line 3"},
		"back in time":     {"time;temp\n2031-05-04 10:00;1\n2031-05-04 09:00;2\n2031-05-04 11:00;2\n", Format{}, "line 3"},
		"no figures":       {"time;state\n2031-05-04 10:00;1 of 2\n2031-05-04 10:01;2 of 2\n", Format{}, "no table"},
		"one moment":       {"time;temp\n2031-05-04 10:00;1\n2031-05-04 10:00;2\n", Format{}, "one and the same"},
		"strange format":   {"time;temp\n", Format{Times: "stardate"}, "ymd"},
		"long separator":   {"time;temp\n", Format{Separator: "ab"}, "one character"},
		"strange decimals": {"time;temp\n", Format{Decimal: "!"}, "comma"},
		"wrong separator":  {"time;temp\n2031-05-04 10:00;1\n2031-05-04 10:01;2\n", Format{Separator: "|"}, "separator"},
	}
	for name, c := range cases {
		_, err := Parse("log.csv", []byte(c.text), c.format)
		if err == nil || !strings.Contains(err.Error(), c.want) || !strings.HasPrefix(err.Error(), "log.csv: ") || strings.Contains(err.Error(), "\n") {
			t.Errorf("%s: %v", name, err)
		}
	}
}

func FuzzParse(f *testing.F) {
	for _, c := range tables {
		f.Add([]byte(c.text), c.format.Separator, c.format.Decimal, c.format.Times)
	}
	f.Add([]byte("elapsed (s);x\n0;1\n-5;2\n1e9;3"), "", "comma", "s")
	f.Fuzz(func(t *testing.T, data []byte, separator, decimal, times string) {
		log, err := Parse("x", data, Format{separator, decimal, times})
		if err != nil {
			if strings.Contains(err.Error(), "\n") {
				t.Errorf("an error of several lines: %q", err)
			}
			return
		}
		if len(log.Columns) == 0 || len(log.Times) < 2 {
			t.Errorf("a log of %d columns and %d rows", len(log.Columns), len(log.Times))
		}
		for i := range log.Times[1:] {
			if log.Times[i+1].Before(log.Times[i]) {
				t.Error("times do not ascend")
			}
		}
		for _, c := range log.Columns {
			if len(c.Values) != len(log.Times) || c.Name == "" {
				t.Errorf("column %q has %d figures for %d times", c.Name, len(c.Values), len(log.Times))
			}
		}
	})
}
