// Package start keeps the terminal library from asking the terminal for its
// background colour before the program begins: a terminal that does not answer
// (a serial console, some relays) would hold every start up for five seconds.
//
// The library asks in its package initialiser unless the answer is set already.
// Initialisers of packages that are ready run in the order of their import paths,
// and this path sorts before the library's; a test on a silent terminal guards it.
// The colours of package tui are chosen to read on dark and light alike, so
// nothing depends on the answer. Import it for its effect alone.
package start

import "github.com/charmbracelet/lipgloss"

func init() { lipgloss.SetHasDarkBackground(true) }
