package machine

import (
	"errors"
	"fmt"
	"sort"
	"strings"

	toml "github.com/pelletier/go-toml/v2"
)

// FileError is a fault of a machine file: where it is and what to do.
type FileError struct {
	File    string
	Line    int    // from 1; 0 where it concerns the whole file
	Key     string // dotted, such as "cylinder.bore"; "" for a fault of the TOML itself
	Problem string // found, needed
}

// Error returns the fault in one line.
func (e *FileError) Error() string {
	text := "machine: " + e.File
	if e.Line > 0 {
		text += fmt.Sprintf(":%d", e.Line)
	}
	if e.Key != "" {
		text += ": " + e.Key
	}
	return text + ": " + e.Problem
}

// Parse reads a machine file. Every physical quantity is a string with its unit,
// such as bore = "50 mm"; unknown keys are errors that suggest a known one.
//
// Parse returns a *FileError for the first fault in the order of the file: TOML
// syntax, an unknown key, a missing or wrong unit, a number out of its range, or
// two values that contradict each other. file is used in messages only.
func Parse(data []byte, file string) (*Machine, error) {
	file = printable(file)
	var document map[string]any
	if err := toml.Unmarshal(data, &document); err != nil {
		return nil, syntaxError(file, err)
	}
	lines := lineNumbers(data)
	entries := flatten(document, lines)
	m := &Machine{}
	for _, e := range entries {
		if err := m.set(e); err != nil {
			return nil, e.fault(file, lines, err)
		}
	}
	if m.Limits.ForcePull == 0 {
		m.Limits.ForcePull = m.Limits.Force
	}
	if key, problem := m.contradiction(); problem != "" {
		return nil, &FileError{File: file, Line: lineOf(entries, key), Key: key, Problem: problem}
	}
	return m, nil
}

func syntaxError(file string, err error) error {
	var decode *toml.DecodeError
	if errors.As(err, &decode) {
		row, _ := decode.Position()
		text := strings.TrimPrefix(decode.Error(), "toml: ")
		if strings.Contains(text, "strings cannot have new lines") {
			text += `; close the quotation marks, as in bore = "50 mm"`
		}
		return &FileError{File: file, Line: row, Problem: "not valid TOML: " + printable(text)}
	}
	return &FileError{File: file, Problem: "not valid TOML: " + printable(strings.TrimPrefix(err.Error(), "toml: "))}
}

// printable replaces what a terminal could take for a command, and shortens.
func printable(text string) string {
	const longest = 300
	var b strings.Builder
	for i, r := range text {
		if i >= longest {
			b.WriteString("…")
			break
		}
		if r < ' ' || r >= 0x7f && r < 0xa0 || r == 0x2028 || r == 0x2029 || r >= 0x202a && r <= 0x202e || r >= 0x2066 && r <= 0x2069 {
			r = '·'
		}
		b.WriteRune(r)
	}
	return b.String()
}

// entry is one key of the file with its value.
type entry struct {
	path  []string
	value any
	line  int
}

func (e entry) key() string { return strings.Join(e.path, ".") }

// fault places an error on the entry's line, or on that of the key within it.
func (e entry) fault(file string, lines map[string]int, err error) *FileError {
	fault := &FileError{File: file, Line: e.line, Key: printable(e.key())}
	var inner *keyError
	if errors.As(err, &inner) {
		fault.Line = lines[pathKey(append(append([]string(nil), e.path...), inner.key))]
		fault.Key += "." + printable(inner.key)
		err = inner.err
	}
	fault.Problem = printable(err.Error())
	return fault
}

func lineOf(entries []entry, key string) int {
	for _, e := range entries {
		if e.key() == key {
			return e.line
		}
	}
	return 0
}

// flatten lists the keys that set something, in the order of the file. Each
// channel, and the table of resolutions, is one entry with its table as value.
func flatten(document map[string]any, lines map[string]int) []entry {
	var entries []entry
	var walk func(path []string, value any)
	walk = func(path []string, value any) {
		table, isTable := value.(map[string]any)
		whole := len(path) == 2 && (path[0] == "channels" || path[0] == "controller")
		if isTable && !whole && len(path) < deepest && len(table) > 0 {
			for k, v := range table {
				walk(append(append([]string(nil), path...), k), v)
			}
			return
		}
		entries = append(entries, entry{path, value, lines[pathKey(path)]})
	}
	for k, v := range document {
		walk([]string{k}, v)
	}
	sort.Slice(entries, func(i, j int) bool {
		if entries[i].line != entries[j].line {
			return entries[i].line < entries[j].line
		}
		return entries[i].key() < entries[j].key()
	})
	return entries
}
