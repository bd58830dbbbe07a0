package main

import (
	"os"
	"os/exec"
	"regexp"
	"strings"
	"testing"
)

// TestDependenciesAreListed holds DEVELOPERS.md to what the code imports: every
// module, at its version, with a licence and a purpose, and no other.
func TestDependenciesAreListed(t *testing.T) {
	page, err := os.ReadFile("../../DEVELOPERS.md")
	if err != nil {
		t.Fatal(err)
	}
	listed := map[string]string{}
	for _, row := range regexp.MustCompile(`(?m)^\| (\S+\.\S+/\S+) \| (v\S+) \| \S+ \| \S.* \|$`).FindAllStringSubmatch(string(page), -1) {
		listed[row[1]] = row[2]
	}
	required := map[string]string{}
	mod, err := os.ReadFile("../../go.mod")
	if err != nil {
		t.Fatal(err)
	}
	for _, line := range regexp.MustCompile(`(?m)^(?:require)?\s+(\S+\.\S+) (v\S+)`).FindAllStringSubmatch(string(mod), -1) {
		required[line[1]] = line[2]
	}
	out, err := exec.Command("go", "list", "-f", `{{join .Imports "\n"}}{{"\n"}}{{join .TestImports "\n"}}{{"\n"}}{{join .XTestImports "\n"}}`, "eha/strokewise/...").Output()
	if err != nil {
		t.Fatal(err)
	}
	imported := map[string]bool{}
	for _, path := range strings.Fields(string(out)) {
		for module := range required {
			if path == module || strings.HasPrefix(path, module+"/") {
				imported[module] = true
			}
		}
	}
	if len(imported) < 5 {
		t.Fatalf("only %v found among the imports", imported)
	}
	for module := range imported {
		if listed[module] != required[module] {
			t.Errorf("%s %s is imported, DEVELOPERS.md lists %q", module, required[module], listed[module])
		}
	}
	for module := range listed {
		if !imported[module] {
			t.Errorf("DEVELOPERS.md lists %s, which no package imports", module)
		}
	}
}
