package quality

import "eha/strokewise/ident/trace"

// What a short buffer says of the wiring by itself is not believed against the others: below
// doubtful it may be overruled by logs of the same columns that are as sure as certain
// together. A log that is sure of a fault keeps it, since recorders are set up anew between logs.
const (
	doubtful = 0.99
	certain  = 0.999
)

// doubtedByOthers returns the logs whose fault of wiring the votes of all logs together do
// not bear out, with the common judgement put into them.
func doubtedByOthers(views []*view) []int {
	var list []int
	for i, v := range views {
		if v.wiring.faults == 0 || v.wiring.sure >= doubtful {
			continue
		}
		common := wiring{}
		for _, other := range views {
			if sameColumns(v, other) {
				common.votes = append(common.votes, other.wiring.votes...)
			}
		}
		if common.decide(); common.sure >= certain && common.faults != v.wiring.faults {
			v.agreed = &common
			list = append(list, i)
		}
	}
	return list
}

// sameColumns reports whether each channel that both logs hold was read from columns of one name.
func sameColumns(a, b *view) bool {
	columns := map[trace.Channel]string{}
	for _, g := range a.r.Guesses {
		if !g.Asked {
			columns[g.Channel] = g.Column
		}
	}
	for _, g := range b.r.Guesses {
		if other, ok := columns[g.Channel]; ok && !g.Asked && other != g.Column {
			return false
		}
	}
	return true
}

// overrule takes over the faults of a common judgement, and how sure it is.
func (w *wiring) overrule(by *wiring) { w.faults, w.next, w.sure = by.faults, by.next, by.sure }
