package main

import (
	"context"
	"fmt"
	"io"
	"runtime/debug"
)

const usage = `wearround sorts the sensor wears of a practice: which need a person, how soon, and why.

  wearround demo [--addr H:P]          an invented practice with a year of wears, served at once
  wearround serve [--data DIR] ...     the real thing: watch a folder, file what comes, serve the round
  wearround analyse FILE|DIR ...       read files and print what is found; --json: one object a wear
  wearround analyse --register FILE ...  the same with what is known of the people (as the API answers)
  wearround analyse --methods          every definition, formula, limit and source
  wearround user list|add|link|password|disable|enable ...
  wearround token add|list|revoke ...  for programs that use the API (/api/v1/openapi.json)
  wearround export wear|person|practice ...  what is held, as tables and FHIR R4
  wearround export --deidentified DIR --code CODE   what a network of practices audits by, as Parquet
  wearround verify [--all]             do log and data hold together? 0: yes, 1: no; --all: originals too
  wearround audit show|keep|list|kept|differences ...    the year in counts, and what was kept of it
  wearround protocol list|show|compare|draft|try|sign ...  the practice's limits, and what others would change
  wearround backup DIR [--data DIR]    copy the practice to another disk or share, now
  wearround restore FROM --data NEW    bring a practice back from a backup into a new folder
  wearround drill DIR [--data DIR]     prove that the newest backup brings the practice back
  wearround doctor [flags of serve]    is this installation right? in plain words
  wearround print systemd|container|proxy|alerts|bash
  wearround licences                   whose work is in this program
  wearround version

Every flag can also be set as WEARROUND_NAME in the environment (--name-rule is WEARROUND_NAME_RULE)
or as a line "name value" in the file given by --config.
"wearround COMMAND -h" lists a command's flags.

It orders work and shows evidence; it does not diagnose. Laboratory tests do. No agreed normal
range exists for people without diabetes: the limits are the practice's own. Data are days old
and nobody is watching live. Symptoms override the sensor; severe symptoms mean emergency care.
`

func versionCommand(_ context.Context, args []string, stdout, _ io.Writer) error {
	if _, err := newFlags("version", "wearround version    print which version this is\n").parse(args, stdout, 0, 0); err != nil {
		return err
	}
	_, err := fmt.Fprintln(stdout, "wearround", version())
	return err
}

// version is the module's version where the build knows it.
func version() string {
	if info, ok := debug.ReadBuildInfo(); ok && info.Main.Version != "" {
		return info.Main.Version
	}
	return "(unknown)"
}
