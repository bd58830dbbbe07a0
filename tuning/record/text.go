package record

import (
	"fmt"
	"io"
	"math"
	"strings"
	"text/tabwriter"

	"eha/strokewise/ident/quantity"
)

// DemoMark stands on every page of the invented demo machine.
const DemoMark = "DEMO MACHINE: invented, not yours. Do not enter its settings anywhere."

// page writes a text report; the first error of the writer ends it.
type page struct {
	w      io.Writer
	system quantity.System
	err    error
}

func (p *page) line(format string, args ...any) {
	if p.err == nil {
		_, p.err = fmt.Fprintf(p.w, format+"\n", args...)
	}
}

func (p *page) heading(text string) {
	p.line("\n%s\n%s", text, strings.Repeat("-", len([]rune(text))))
}

// table prints rows of cells in columns.
func (p *page) table(rows [][]string) {
	if p.err != nil {
		return
	}
	t := tabwriter.NewWriter(p.w, 0, 0, 2, ' ', 0)
	for _, row := range rows {
		if _, p.err = fmt.Fprintln(t, strings.TrimRight(strings.Join(row, "\t"), "\t")); p.err != nil {
			return
		}
	}
	p.err = t.Flush()
}

// list prints one item a line, wrapped and hung behind its mark.
func (p *page) list(mark string, items []string) {
	for _, item := range items {
		hang := strings.Repeat(" ", len([]rune(mark))+1)
		for i, l := range wrap(item, 96-len(hang)) {
			if i == 0 {
				p.line("%s %s", mark, l)
			} else {
				p.line("%s%s", hang, l)
			}
		}
	}
}

// show prints an SI value in the page's units.
func (p *page) show(si float64, d quantity.Dimension) string {
	return quantity.Format(si, d, p.system)
}

// wrap breaks text at spaces into lines of at most width runes where words allow it.
func wrap(text string, width int) []string {
	var lines []string
	current := ""
	for _, word := range strings.Fields(text) {
		switch {
		case current == "":
			current = word
		case len([]rune(current))+1+len([]rune(word)) > width:
			lines = append(lines, current)
			current = word
		default:
			current += " " + word
		}
	}
	return append(lines, current)
}

// decibelText prints a ratio in dB, "none" where nothing limits.
func decibelText(ratio float64) string {
	if math.IsInf(ratio, 0) || math.IsNaN(ratio) {
		return "none"
	}
	return fmt.Sprintf("%.1f dB", 20*math.Log10(ratio))
}
