package main

import (
	"go/ast"
	"os"
	"path/filepath"
	"regexp"
	"testing"
)

// TestListedRequirementsHaveTheirTests makes sure that each test that the list
// of security requirements names is there.
func TestListedRequirementsHaveTheirTests(t *testing.T) {
	text, err := os.ReadFile(filepath.Join(root, "testdata", "asvs.md"))
	if err != nil {
		t.Fatal(err)
	}
	there := map[string]bool{}
	for _, file := range testFiles(t) {
		for _, d := range file.Decls {
			if f, ok := d.(*ast.FuncDecl); ok {
				there[f.Name.Name] = true
			}
		}
	}
	named := regexp.MustCompile(`\bTest\w+`).FindAllString(string(text), -1)
	if len(named) < 40 {
		t.Fatalf("the list names %d tests", len(named))
	}
	for _, name := range named {
		if !there[name] {
			t.Errorf("the list names %s, which is not there", name)
		}
	}
}
