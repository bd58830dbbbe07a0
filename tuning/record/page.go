package record

import (
	"fmt"
	"math"
	"slices"

	"eha/strokewise/ident/quantity"
)

// DemoMark stands on every page of the invented demo machine.
const DemoMark = "DEMO MACHINE: invented, not yours. Do not enter its settings anywhere."

// page is a report's content, free of how it is shown: the text reports and the
// commissioning record are two views of the same blocks.
type page struct {
	system quantity.System
	blocks []block
}

// block is one piece of a page; kind says which of its fields count.
type block struct {
	kind   blockKind
	text   string
	mark   string // of a list's items
	items  []string
	header []string // of a table; nil where its first column heads the rows
	rows   [][]string
	groups []group // of a step
	figure *figure
}

type blockKind int

const (
	headingBlock blockKind = iota
	lineBlock
	loudBlock // a line that must not be missed
	listBlock
	tableBlock
	stepBlock   // text is the title
	figureBlock // left out of text reports
	blanksBlock // items to fill in by hand, left out of text reports
)

// group is a labelled list within a step.
type group struct {
	label string
	items []string
	tick  bool // items are to be ticked off
}

func (p *page) heading(text string) {
	p.blocks = append(p.blocks, block{kind: headingBlock, text: p.say(text)})
}

func (p *page) line(format string, args ...any) {
	p.blocks = append(p.blocks, block{kind: lineBlock, text: p.say(fmt.Sprintf(format, args...))})
}

func (p *page) loud(text string) {
	p.blocks = append(p.blocks, block{kind: loudBlock, text: p.say(text)})
}

// list adds one entry per item; without items it adds nothing.
func (p *page) list(mark string, items []string) {
	if len(items) > 0 {
		p.blocks = append(p.blocks, block{kind: listBlock, mark: mark, items: p.sayAll(items)})
	}
}

func (p *page) table(header []string, rows [][]string) {
	if len(rows) > 0 {
		p.blocks = append(p.blocks, block{kind: tableBlock, header: header, rows: rows})
	}
}

func (p *page) step(title string, groups []group) {
	said := slices.Clone(groups)
	for i := range said {
		said[i].items = p.sayAll(said[i].items)
	}
	p.blocks = append(p.blocks, block{kind: stepBlock, text: p.say(title), groups: said})
}

func (p *page) draw(f *figure) {
	if f != nil {
		f.title, f.about = p.say(f.title), p.say(f.about)
		p.blocks = append(p.blocks, block{kind: figureBlock, figure: f})
	}
}

// say returns prose, which is written in metric units, in the page's.
func (p *page) say(text string) string { return quantity.Restate(text, p.system) }

func (p *page) sayAll(texts []string) []string {
	said := make([]string, len(texts))
	for i, t := range texts {
		said[i] = p.say(t)
	}
	return said
}

// show prints an SI value in the page's units.
func (p *page) show(si float64, d quantity.Dimension) string {
	return quantity.Format(si, d, p.system)
}

// milliseconds prints a short time.
func milliseconds(s float64) string { return quantity.Digits(1e3*s, 4) + " ms" }

// decibelText prints a ratio in dB, "none" where nothing limits.
func decibelText(ratio float64) string {
	if math.IsInf(ratio, 0) || math.IsNaN(ratio) {
		return "none"
	}
	return fmt.Sprintf("%.1f dB", 20*math.Log10(ratio))
}
