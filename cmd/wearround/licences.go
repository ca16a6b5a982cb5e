package main

import (
	"context"
	"embed"
	"fmt"
	"io"
	"io/fs"
	"runtime/debug"
	"strings"
)

// notices holds what the standards ask for and, in a released program, the
// licence texts of every module linked into it: .ci/release puts them there.
//
//go:embed notices
var notices embed.FS

// licencesCommand prints whose work is in the program and under what terms.
func licencesCommand(_ context.Context, args []string, stdout, _ io.Writer) error {
	if _, err := newFlags("licences", "wearround licences    whose work is in this program, and under what terms\n").parse(args, stdout, 0, 0); err != nil {
		return err
	}
	texts := 0
	err := fs.WalkDir(notices, "notices", func(path string, d fs.DirEntry, err error) error {
		if err != nil || d.IsDir() {
			return err
		}
		text, err := notices.ReadFile(path)
		if err != nil {
			return err
		}
		if module, ok := strings.CutPrefix(path, "notices/modules/"); ok {
			texts++
			fmt.Fprintf(stdout, "\n==== %s\n\n", strings.TrimSuffix(module, ".txt"))
		}
		_, err = stdout.Write(text)
		return err
	})
	if err != nil || texts > 0 {
		return err
	}
	info, ok := debug.ReadBuildInfo()
	if !ok {
		return nil
	}
	fmt.Fprint(stdout, "\nBuilt from source, so the licence texts are where the source is: in each module's own folder\n(go list -m -f '{{.Dir}}' MODULE). Linked are:\n\n")
	for _, m := range info.Deps {
		fmt.Fprintf(stdout, "  %s %s\n", m.Path, m.Version)
	}
	return nil
}
