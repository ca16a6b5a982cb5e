package main

import (
	"context"
	"embed"
	"io"
	"io/fs"
	"strings"
)

//go:embed print
var toPrint embed.FS

const printUsage = `wearround print systemd|container|proxy|alerts|bash

Prints a file to begin with: a hardened unit for systemd, a container file, an example for a proxy that
ends TLS, rules for what must wake somebody, or completion for bash (source <(wearround print bash)).
`

// printCommand prints a file that people put beside the program.
func printCommand(_ context.Context, args []string, stdout, _ io.Writer) error {
	rest, err := newFlags("print", printUsage).parse(args, stdout, 1, 1)
	if err != nil {
		return err
	}
	text, err := fs.ReadFile(toPrint, "print/"+strings.ToLower(rest[0]))
	if err != nil {
		return &usageError{"there is nothing called " + rest[0] + " to print\n" + printUsage}
	}
	_, err = io.WriteString(stdout, strings.ReplaceAll(string(text), "COMMANDS", strings.Join(commandNames(), " ")))
	return err
}
