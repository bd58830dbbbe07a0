package machine

import (
	"strings"

	"github.com/pelletier/go-toml/v2/unstable"
)

// pathKey joins a key's parts by a character that bare keys cannot hold.
func pathKey(path []string) string { return strings.Join(path, "\x00") }

// lineNumbers maps every key of a valid TOML document, tables and the keys of
// inline tables included, to its line.
func lineNumbers(data []byte) map[string]int {
	lines := map[string]int{}
	var p unstable.Parser
	p.Reset(data)
	var table []string
	for p.NextExpression() {
		switch node := p.Expression(); node.Kind {
		case unstable.Table, unstable.ArrayTable:
			table = addKey(&p, lines, nil, node)
		case unstable.KeyValue:
			addKeyValue(&p, lines, table, node)
		}
	}
	return lines
}

// deepest is how many parts the longest key that a message names has.
const deepest = 4

// addKey records the lines of the parts of a node's key, as many as messages name, and returns
// the path of so many: a key of a million parts would else be recorded a million times.
func addKey(p *unstable.Parser, lines map[string]int, prefix []string, node *unstable.Node) []string {
	path := append([]string(nil), prefix...)
	for it := node.Key(); it.Next(); {
		part := it.Node()
		if len(path) == deepest {
			break
		}
		path = append(path, string(part.Data))
		if _, known := lines[pathKey(path)]; !known {
			lines[pathKey(path)] = p.Shape(part.Raw).Start.Line
		}
	}
	return path
}

func addKeyValue(p *unstable.Parser, lines map[string]int, prefix []string, node *unstable.Node) {
	path := addKey(p, lines, prefix, node)
	if value := node.Value(); value.Kind == unstable.InlineTable {
		for it := value.Children(); it.Next(); {
			addKeyValue(p, lines, path, it.Node())
		}
	}
}
