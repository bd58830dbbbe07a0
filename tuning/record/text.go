package record

import (
	"fmt"
	"io"
	"strings"
	"text/tabwriter"
)

// textWidth is the width that lists are wrapped to, in characters.
const textWidth = 96

// writeText prints the page as plain text and returns the writer's error.
func (p *page) writeText(w io.Writer) error {
	var b strings.Builder
	for _, block := range p.blocks {
		block.writeTo(&b)
	}
	_, err := io.WriteString(w, b.String())
	return err
}

func (bl *block) writeTo(b *strings.Builder) {
	switch bl.kind {
	case headingBlock:
		fmt.Fprintf(b, "\n%s\n%s\n", bl.text, strings.Repeat("-", len([]rune(bl.text))))
	case lineBlock:
		fmt.Fprintln(b, bl.text)
	case loudBlock:
		fmt.Fprintf(b, "%s\n\n", bl.text)
	case listBlock:
		textList(b, bl.mark, bl.items)
	case tableBlock:
		textTable(b, bl.header, bl.rows)
	case stepBlock:
		fmt.Fprintln(b, bl.text)
		for _, g := range bl.groups {
			textList(b, fmt.Sprintf("   %-8s", g.label+":"), g.items)
		}
	}
}

// textTable prints rows in columns.
func textTable(b *strings.Builder, header []string, rows [][]string) {
	t := tabwriter.NewWriter(b, 0, 0, 2, ' ', 0)
	if header != nil {
		rows = append([][]string{header}, rows...)
	}
	for _, row := range rows {
		// Writing to a strings.Builder cannot fail.
		_, _ = fmt.Fprintln(t, "  "+strings.TrimRight(strings.Join(row, "\t"), "\t"))
	}
	_ = t.Flush()
}

// textList prints one item a line, wrapped and hung behind its mark.
func textList(b *strings.Builder, mark string, items []string) {
	hang := strings.Repeat(" ", len([]rune(mark))+1)
	for _, item := range items {
		for i, l := range wrap(item, textWidth-len(hang)) {
			if i == 0 {
				fmt.Fprintf(b, "%s %s\n", mark, l)
			} else {
				fmt.Fprintf(b, "%s%s\n", hang, l)
			}
		}
	}
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
