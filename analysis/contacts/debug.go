package contacts

import (
	"fmt"
	"os"
)

func debugf(f string, a ...any) {
	if os.Getenv("EXPLORE") != "" {
		fmt.Fprintf(os.Stderr, f, a...)
	}
}
