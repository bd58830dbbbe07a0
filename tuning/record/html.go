package record

import (
	"fmt"
	"html/template"
)

// section is a part of the record under its heading, as the template takes it.
type section struct {
	Title string
	Parts []part
}

// part is one block ready for the template; exactly one of its contents is there.
type part struct {
	Line, Loud string
	List       []string
	Careful    bool // of a list: items that must not be missed
	Table      *tableView
	Step       *stepView
	Figure     *figureView
	Blanks     []string
}

type tableView struct {
	Header []string
	Rows   [][]cell
}

// cell is a table's cell with its column's name for narrow screens.
type cell struct {
	Text, Of string
	Heads    bool // the row's heading
}

type stepView struct {
	Title  string
	Groups []groupView
}

type groupView struct {
	Label string
	Items []string
	Tick  bool
}

type figureView struct {
	Title, About string
	SVG          template.HTML // built by figure.svg, which escapes every text
}

// inSections turns the page into what the template shows.
func (p *page) inSections() []section {
	var list []section
	figures := 0
	for _, b := range p.blocks {
		if b.kind == headingBlock {
			list = append(list, section{Title: b.text})
			continue
		}
		if len(list) == 0 {
			list = append(list, section{})
		}
		if b.kind == figureBlock {
			figures++
		}
		last := &list[len(list)-1]
		last.Parts = append(last.Parts, b.part(figures))
	}
	return list
}

func (b *block) part(number int) part {
	switch b.kind {
	case lineBlock:
		return part{Line: b.text}
	case loudBlock:
		return part{Loud: b.text}
	case listBlock:
		return part{List: b.items, Careful: b.mark == "!" || b.mark == "!!"}
	case tableBlock:
		return part{Table: tableOf(b.header, b.rows)}
	case blanksBlock:
		return part{Blanks: b.items}
	case stepBlock:
		s := &stepView{Title: b.text}
		for _, g := range b.groups {
			s.Groups = append(s.Groups, groupView{g.label, g.items, g.tick})
		}
		return part{Step: s}
	case figureBlock:
		f := b.figure
		return part{Figure: &figureView{f.title, f.about, template.HTML(f.svg(fmt.Sprintf("plot%d", number)))}}
	}
	return part{}
}

func tableOf(header []string, rows [][]string) *tableView {
	t := &tableView{Header: header}
	for _, row := range rows {
		cells := make([]cell, len(row))
		for i, text := range row {
			cells[i] = cell{Text: text, Heads: i == 0}
			if i < len(header) {
				cells[i].Of = header[i]
			}
		}
		t.Rows = append(t.Rows, cells)
	}
	return t
}
