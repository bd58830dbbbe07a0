package tui

import tea "github.com/charmbracelet/bubbletea"

// clickKey presses the key that stands at a cell of the line of keys, where it is one.
func (a *App) clickKey(x int) tea.Cmd {
	at := 0
	for _, k := range a.keysInLine() {
		w := narrow.StringWidth(k.Help().Key + " " + k.Help().Desc)
		if x >= at && x < at+w && k.Help().Key == nameOf(k.Keys()[0]) {
			return a.press(keyNamed(k.Keys()[0]))
		}
		at += w + narrow.StringWidth(keyGap)
	}
	return nil
}

// nameOf is how a key that stands for itself alone is shown.
func nameOf(name string) string {
	if name == " " {
		return "space"
	}
	return name
}

// keyNamed is the press of a key by the name that it is bound to.
func keyNamed(name string) tea.KeyMsg {
	for _, t := range []tea.KeyType{tea.KeyEnter, tea.KeyEsc, tea.KeyTab, tea.KeyBackspace, tea.KeySpace} {
		if t.String() == name {
			return tea.KeyMsg{Type: t}
		}
	}
	return tea.KeyMsg{Type: tea.KeyRunes, Runes: []rune(name)}
}

// mouse answers clicks on the screens' names, in the body and on the keys, and the wheel.
func (a *App) mouse(msg tea.MouseMsg) tea.Cmd {
	if a.width < leastWidth || a.height < leastHeight || msg.Action != tea.MouseActionPress {
		return nil
	}
	switch msg.Button {
	case tea.MouseButtonWheelUp:
		return a.press(tea.KeyMsg{Type: tea.KeyUp})
	case tea.MouseButtonWheelDown:
		return a.press(tea.KeyMsg{Type: tea.KeyDown})
	case tea.MouseButtonLeft:
		return a.click(msg.X, msg.Y)
	}
	return nil
}

func (a *App) click(x, y int) tea.Cmd {
	height := a.bodyHeight()
	switch body := y - len(a.head(a.width)); {
	case y == a.height-1:
		return a.clickKey(x)
	case y == 0 && a.over == nil:
		a.clickTab(x)
	case body < 0 || body >= height:
	case a.over != nil:
		return a.over.click(a, x, body, a.width, height)
	default:
		return a.screens[a.active].click(a, x, body, a.width, height)
	}
	return nil
}

func (a *App) clickTab(x int) {
	at := len(a.brand())
	for i, t := range a.tabs() {
		if x >= at && x < at+len(t) {
			a.show(i)
		}
		at += len(t)
	}
}
