package prose

import "testing"

func TestPrintable(t *testing.T) {
	for text, want := range map[string]string{
		"":                         "",
		"Größe: 5\u00a0ms ± 1\n":   "Größe: 5\u00a0ms ± 1\n",
		"a\x1b[31mb\r\x00":         `a\x1b[31mb\r\x00`,
		"\u009b2J\u202e\u200b\x7f": `\u009b2J\u202e\u200b\x7f`,
		"\x9b\xff":                 `\x9b\xff`,
		"\ufffd":                   "\ufffd",
	} {
		if got := Printable(text); got != want {
			t.Errorf("Printable(%q) = %q, want %q", text, got, want)
		}
	}
}

func TestCell(t *testing.T) {
	for text, want := range map[string]string{
		"": "", "barrel": "barrel", "a=b": "a=b", "-1.5e-07": "-1.5e-07", "+2": "+2", "0.05": "0.05",
		"=1+1": "'=1+1", "+1+1": "'+1+1", "-1+1": "'-1+1", "@SUM(A1)": "'@SUM(A1)", "\t=1": "'\t=1", "-": "'-",
	} {
		if got := Cell(text); got != want {
			t.Errorf("Cell(%q) = %q, want %q", text, got, want)
		}
	}
}
