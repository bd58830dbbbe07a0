package main

import (
	"os/exec"
	"strings"
	"testing"
)

// layer orders the tree: a package may import its own layer's packages and those
// below it, never above. Data flows one way: ident -> tuning -> tui -> cmd.
func layer(pkg string) int {
	for i, prefix := range []string{"ident", "tuning", "tui", "cmd"} {
		if pkg == prefix || strings.HasPrefix(pkg, prefix+"/") {
			return i
		}
	}
	return -1
}

// TestImportsRunOneWay keeps the direction of imports, keeps the terminal
// libraries out of the numeric packages, files and the clock out of them too,
// go-dsp behind ident/spectral, and the samples' simulator free of what it judges.
func TestImportsRunOneWay(t *testing.T) {
	const module = "eha/strokewise/"
	out, err := exec.Command("go", "list", "-f", `{{.ImportPath}}:{{join .Imports " "}}`, module+"...").Output()
	if err != nil {
		t.Fatal(err)
	}
	lines := strings.Split(strings.TrimSpace(string(out)), "\n")
	if len(lines) < 10 {
		t.Fatalf("go list found %d packages, expected the whole tree", len(lines))
	}
	for _, line := range lines {
		pkg, imports, _ := strings.Cut(line, ":")
		pkg = strings.TrimPrefix(pkg, module)
		for _, imported := range strings.Fields(imports) {
			own, inModule := strings.CutPrefix(imported, module)
			switch {
			case inModule && layer(pkg) >= 0 && layer(own) > layer(pkg):
				t.Errorf("%s imports %s, which lies above it", pkg, own)
			case strings.HasPrefix(pkg, "samples/twin") && inModule && layer(own) >= 0:
				t.Errorf("%s imports %s: the simulator must not know what it judges", pkg, own)
			case pkg == "ident/plant" && inModule && own != "ident/machine" && own != "ident/trace":
				t.Errorf("ident/plant imports %s", own)
			case strings.Contains(imported, "charmbracelet") && layer(pkg) < layer("tui"):
				t.Errorf("%s imports a terminal library", pkg)
			case strings.Contains(imported, "go-dsp") && pkg != "ident/spectral":
				t.Errorf("%s imports go-dsp, which belongs behind ident/spectral", pkg)
			case imported == "os" && numeric(pkg):
				t.Errorf("%s imports %s: numeric packages know no files and no terminal", pkg, imported)
			}
		}
	}
}

// numeric reports whether the package computes only.
func numeric(pkg string) bool {
	if pkg == "tuning/job" || pkg == "tuning/record" {
		return false
	}
	return layer(pkg) == layer("ident") || layer(pkg) == layer("tuning")
}
