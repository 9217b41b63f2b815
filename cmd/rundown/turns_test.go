package main

import "testing"

func TestFileName(t *testing.T) {
	for name, want := range map[string]string{
		"escape wheel": "escape-wheel", "../../etc/passwd": "etc-passwd", "Großbodenrad": "gro-bodenrad", "a\nb": "a-b", "中": "",
	} {
		if got := fileName(name); got != want {
			t.Errorf("fileName(%q) = %q, want %q", name, got, want)
		}
	}
}
