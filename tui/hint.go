package tui

import (
	"errors"
	"io/fs"
	"strings"

	"eha/strokewise/ident/trace"
)

// advise says what went wrong in one line, and what to do in another where that
// is known. Errors carry their own place (file, row, column); the package's name
// in front of them means nothing to a user.
func advise(err error) []string {
	var read *trace.ReadError
	switch {
	case errors.As(err, &read):
		lines := []string{plain(strings.TrimSuffix(read.Error(), "; "+read.Advice))}
		switch {
		case read.Timeless:
			lines = append(lines, "Do: press t and type the recorder's sample period, such as 2 ms.")
		case strings.Contains(read.Advice, "--"): // words for a command line
			lines = append(lines, "Do: open that log with o; its columns come up as a table, to say which is which.")
		case read.Advice != "":
			lines = append(lines, "Do: "+read.Advice+".")
		}
		return lines
	case errors.Is(err, fs.ErrNotExist):
		return []string{plain(err.Error()), "Do: o shows what the folder holds."}
	case errors.Is(err, fs.ErrPermission):
		return []string{plain(err.Error()), "Do: choose a file or folder that you may read and write."}
	}
	return []string{plain(err.Error())}
}

// timeless reports whether a log lacks nothing but its sample period.
func timeless(err error) bool {
	var read *trace.ReadError
	return errors.As(err, &read) && read.Timeless
}

// plain drops the name of the package that begins an error.
func plain(text string) string {
	for _, name := range []string{"trace: ", "machine: ", "quality: ", "ident: fit: ", "ident: ", "tuning: ", "plant: ", "job: ", "sim: ", "record: "} {
		text = strings.TrimPrefix(text, name)
	}
	return text
}
