package notifytest

import (
	"fmt"
	"os"
	"strings"
)

// Vectors reads a file of test vectors: header lines ("source: ...", "columns: ...", "note: ..."), an
// empty line, then rows of columns divided by " | ". Lines that begin with # divide groups. An unknown
// header, a missing source or a row with another number of columns is an error.
func Vectors(path string) (rows [][]string, err error) {
	text, err := os.ReadFile(path)
	if err != nil {
		return nil, err
	}
	head, body, found := strings.Cut(string(text), "\n\n")
	if !found {
		return nil, fmt.Errorf("%s: no empty line after the header", path)
	}
	columns := 0
	sourced := false
	for line := range strings.Lines(head) {
		key, value, _ := strings.Cut(strings.TrimSpace(line), ": ")
		switch key {
		case "source":
			sourced = value != ""
		case "columns":
			columns = strings.Count(value, " | ") + 1
		case "note":
		default:
			return nil, fmt.Errorf("%s: unknown header %q", path, line)
		}
	}
	if !sourced || columns == 0 {
		return nil, fmt.Errorf("%s: the header names no source or no columns", path)
	}
	for line := range strings.Lines(body) {
		line = strings.TrimRight(line, "\n")
		if line == "" || strings.HasPrefix(line, "#") {
			continue
		}
		row := strings.Split(line, "|")
		for i := range row {
			row[i] = strings.TrimSpace(row[i])
		}
		if len(row) != columns {
			return nil, fmt.Errorf("%s: %d columns, want %d: %q", path, len(row), columns, line)
		}
		rows = append(rows, row)
	}
	if len(rows) == 0 {
		return nil, fmt.Errorf("%s: no rows", path)
	}
	return rows, nil
}
