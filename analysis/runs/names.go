package runs

import (
	"path/filepath"
	"slices"
	"strconv"
	"strings"
)

// Names returns what runs are called where they are shown together: the last part
// of each path, and where that is alike the parts before it that tell them apart,
// those in between left out. Paths that are one and the same are numbered.
func Names(paths []string) []string {
	parts := make([][]string, len(paths))
	for i, path := range paths {
		parts[i] = strings.FieldsFunc(filepath.ToSlash(filepath.Clean(path)), func(r rune) bool { return r == '/' })
		if len(parts[i]) == 0 {
			parts[i] = []string{path}
		}
	}
	names := make([]string, len(paths))
	for i := range paths {
		names[i] = tellApart(parts, i)
	}
	for _, name := range slices.Clone(names) {
		if alike(names, name) > 1 {
			number(names, name)
		}
	}
	return names
}

// tellApart names one of several paths.
func tellApart(parts [][]string, i int) string {
	own := parts[i]
	name := own[len(own)-1]
	last := len(own) - 1 // the part named furthest to the left
	rivals := slices.Clone(parts)
	for k := len(own) - 1; k >= 0; k-- {
		fromEnd := len(own) - k
		same := func(p []string) bool { return len(p) >= fromEnd && p[len(p)-fromEnd] == own[k] }
		before := len(rivals)
		rivals = slices.DeleteFunc(rivals, func(p []string) bool { return !same(p) })
		if k == len(own)-1 || len(rivals) == before {
			continue
		}
		between := "/"
		if last-k > 1 {
			between = "/…/"
		}
		name, last = own[k]+between+name, k
	}
	return name
}

func alike(names []string, name string) int {
	n := 0
	for _, other := range names {
		if other == name {
			n++
		}
	}
	return n
}

// number tells those of one name apart.
func number(names []string, name string) {
	n := 0
	for i := range names {
		if names[i] == name {
			n++
			names[i] += " (" + strconv.Itoa(n) + ")"
		}
	}
}
