package main

import (
	"fmt"
	"io"
	"strings"

	"wearround/worker/wear"
)

// printMethods writes how everything in a report comes about: the same text
// that the page "How it decides" shows.
func printMethods(w io.Writer, p *wear.Protocol) error {
	b := &strings.Builder{}
	fmt.Fprintf(b, "Engine %s, protocol %s (%s).\n", wear.EngineVersion, p.Version, p.Status)
	methods := wear.Methods()
	for _, part := range wear.MethodParts() {
		fmt.Fprintf(b, "\n%s\n", strings.ToUpper(part))
		for _, m := range methods {
			if m.Part != part {
				continue
			}
			fmt.Fprintf(b, "\n  %s (%s)\n    %s\n", m.Name, m.Key, m.Definition)
			if m.Formula != "" {
				fmt.Fprintf(b, "    Formula: %s\n", m.Formula)
			}
			if m.Unit != "" {
				fmt.Fprintf(b, "    Unit: %s\n", m.Unit)
			}
			fmt.Fprintf(b, "    Source: %s [%s]\n", m.Source, m.Status)
		}
	}
	fmt.Fprint(b, "\nSETTINGS OF THE PROTOCOL\n\n")
	for _, s := range p.Settings() {
		fmt.Fprintf(b, "  %s: %s %s; %s [%s]\n", s.Name, s.Value, s.Unit, s.Source, s.Status)
	}
	_, err := io.WriteString(w, b.String())
	return err
}
