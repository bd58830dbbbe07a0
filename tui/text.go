package tui

import (
	"strings"
	"unicode"

	"github.com/charmbracelet/x/ansi"
	"github.com/mattn/go-runewidth"
)

// narrow measures text as a Western terminal draws it, whatever the locale.
var narrow = &runewidth.Condition{EastAsianWidth: false}

// clean makes text from outside harmless: control characters, escape sequences'
// introducers, direction marks and invisible characters become '?', so that a
// log's header can neither move the cursor nor reorder a line.
func clean(s string) string {
	bad := func(r rune) bool {
		return r == unicode.ReplacementChar || unicode.IsControl(r) || unicode.In(r, unicode.Cf, unicode.Co, unicode.Cs, unicode.Zl, unicode.Zp)
	}
	if strings.IndexFunc(s, bad) < 0 {
		return s
	}
	return strings.Map(func(r rune) rune {
		if bad(r) {
			return '?'
		}
		return r
	}, s)
}

// cell returns text cleaned and cut or padded to exactly width cells.
func cell(text string, width int) string {
	if width <= 0 {
		return ""
	}
	text = clean(text)
	n := narrow.StringWidth(text)
	if n > width {
		tail := ".."
		if width < 6 {
			tail = ""
		}
		text = narrow.Truncate(text, width, tail)
		n = narrow.StringWidth(text)
	}
	return text + strings.Repeat(" ", max(width-n, 0))
}

// flush is cell with the text at the right end.
func flush(text string, width int) string {
	text = clean(text)
	if n := narrow.StringWidth(text); n < width {
		return strings.Repeat(" ", width-n) + text
	}
	return cell(text, width)
}

// wrap breaks text at blanks into lines of at most width cells; longer words are cut.
func wrap(text string, width int) []string {
	if width < 1 {
		return nil
	}
	var lines []string
	line := ""
	for _, word := range strings.Fields(clean(text)) {
		for narrow.StringWidth(word) > width {
			head := narrow.Truncate(word, width, "")
			if head == "" {
				return lines
			}
			if line != "" {
				lines = append(lines, line)
				line = ""
			}
			lines = append(lines, head)
			word = word[len(head):]
		}
		switch {
		case line == "":
			line = word
		case narrow.StringWidth(line)+1+narrow.StringWidth(word) <= width:
			line += " " + word
		default:
			lines = append(lines, line)
			line = word
		}
	}
	if line != "" {
		lines = append(lines, line)
	}
	return lines
}

// hang wraps text with a mark before the first line and blanks before the rest.
func hang(mark, text string, width int) []string {
	indent := narrow.StringWidth(mark)
	lines := wrap(text, width-indent)
	for i := range lines {
		if i == 0 {
			lines[i] = mark + lines[i]
		} else {
			lines[i] = strings.Repeat(" ", indent) + lines[i]
		}
	}
	return lines
}

// prose sets a text of its own on an otherwise empty screen.
func prose(text string, width int) []string {
	return append([]string{""}, hang("  ", text, width-2)...)
}

// box returns lines, which may hold styles, as exactly height lines of width cells.
func box(lines []string, width, height int) []string {
	out := make([]string, max(height, 0))
	for i := range out {
		if i < len(lines) {
			out[i] = pad(lines[i], width)
		} else {
			out[i] = strings.Repeat(" ", max(width, 0))
		}
	}
	return out
}

// pad cuts or pads a styled line to width cells.
func pad(line string, width int) string {
	n := ansi.StringWidth(line)
	if n > width {
		return ansi.Truncate(line, width, "")
	}
	return line + strings.Repeat(" ", max(width-n, 0))
}

// beside joins two blocks of lines, the left one width cells wide.
func beside(left []string, width int, gap string, right []string) []string {
	n := max(len(left), len(right))
	out := make([]string, n)
	for i := range out {
		l, r := "", ""
		if i < len(left) {
			l = left[i]
		}
		if i < len(right) {
			r = right[i]
		}
		out[i] = pad(l, width) + gap + r
	}
	return out
}

// window returns the part of lines of the given height that starts at from,
// with from kept in range, and marks what lies above and below.
func window(lines []string, from, height int) []string {
	if len(lines) <= height {
		return lines
	}
	from = min(max(from, 0), len(lines)-height)
	return lines[from : from+height]
}

// keep returns the first line to show so that line at stays inside a window.
func keep(at, total, height int) int {
	return min(max(at-height/2, 0), max(total-height, 0))
}

// splitLines splits a rendered block.
func splitLines(block string) []string {
	if block == "" {
		return nil
	}
	return strings.Split(block, "\n")
}

// upper begins a sentence.
func upper(s string) string {
	if s == "" {
		return s
	}
	return strings.ToUpper(s[:1]) + s[1:]
}
