package main

import (
	"os"
	"reflect"
	"strings"
	"testing"

	"wearround/store"
	"wearround/worker/wear"
)

// Whoever writes a register by hand has the README alone: it must name every
// member of a person's context and every kind and unit of a result.
func TestTheReadmeNamesWhatARegisterMayHold(t *testing.T) {
	readme, err := os.ReadFile("../../README.md")
	if err != nil {
		t.Fatal(err)
	}
	_, part, _ := strings.Cut(string(readme), "### With what is known of the people")
	part, _, _ = strings.Cut(part, "\n## ")
	var names []string
	for f := range reflect.TypeFor[wear.Context]().Fields() {
		if name, _, _ := strings.Cut(f.Tag.Get("json"), ","); name != "-" {
			names = append(names, "`"+name+"`")
		}
	}
	for _, kind := range []store.ResultKind{store.HbA1c, store.Fasting, store.OGTT2h, store.RandomGl, store.Insulin} {
		names = append(names, "`"+string(kind)+"`")
		names = append(names, store.ResultUnits(kind)...)
	}
	for _, name := range names {
		if !strings.Contains(part, name) {
			t.Errorf("the README does not say that a register may hold %s", name)
		}
	}
}
