package tui

import "github.com/charmbracelet/bubbles/key"

// bind declares a key with its help text.
func bind(help string, shown string, keys ...string) key.Binding {
	return key.NewBinding(key.WithKeys(keys...), key.WithHelp(shown, help))
}

// Keys of the whole program. Every binding of every screen stands in this file.
var (
	keyHelp     = bind("the keys of this screen", "?", "?")
	keyNext     = bind("next screen", "n", "n")
	keyBack     = bind("screen before", "b", "b")
	keyOpen     = bind("open files", "o", "o")
	keySave     = bind("save", "s", "s")
	keyQuit     = bind("leave", "q", "q", "ctrl+c")
	keyLarge    = bind("plot large and back", "z", "z")
	keyReload   = bind("read the logs again", "r", "r")
	keyCancel   = bind("cancel", "esc", "esc")
	keyUp       = bind("up", "up", "up")
	keyDown     = bind("down", "down", "down")
	keyLeft     = bind("left", "left", "left")
	keyRight    = bind("right", "right", "right")
	keyEnter    = bind("take", "enter", "enter")
	keyTab      = bind("next part", "tab", "tab")
	keyTabBack  = bind("part before", "shift+tab", "shift+tab")
	keyPageUp   = bind("scroll up", "pgup", "pgup")
	keyPageDn   = bind("scroll down", "pgdn", "pgdown")
	keySpace    = bind("mark", "space", " ")
	keyErase    = bind("erase", "backspace", "backspace")
	keyIn       = bind("zoom in", "+", "+", "=")
	keyOut      = bind("zoom out", "-", "-")
	keyWhole    = bind("whole log", "0", "0")
	keyMap      = bind("columns", "m", "m")
	keyLetters  = bind("what it is", "a..z")
	keyLogOn    = bind("next log", ">", ">")
	keyCorrect  = bind("correct", "c", "c")
	keyLeaveOut = bind("leave the stretch out", "e", "e")
	keyUndo     = bind("undo the correction", "u", "u")
	keyDrop     = bind("put this log aside", "x", "x")
	keyNextLog  = bind("next log", "l", "l")
	keyDefault  = bind("knob to default", "d", "d")
	keyForm     = bind("form of the gains", "f", "f")
	keyLoop     = bind("position or force", "g", "g")
	keyScene    = bind("scenario", "c", "c")
	keyInUse    = bind("settings in use then", "i", "i")
	keyPeriod   = bind("sample period of logs without time", "t", "t")
	keyOther    = bind("open the other set", "a", "a")
	keySwap     = bind("swap before and after", "w", "w")
	keyLeave    = bind("leave without saving", "y", "y")
)

// shown returns the binding with help text that fits one screen better.
func shown(b key.Binding, keys, help string) key.Binding {
	b.SetHelp(keys, help)
	return b
}
