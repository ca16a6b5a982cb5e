package main

import (
	"bufio"
	"bytes"
	"errors"
	"flag"
	"fmt"
	"io"
	"maps"
	"slices"
	"strings"

	"github.com/peterbourgon/ff/v3"

	"wearround/store"
)

// flags are the flags of one command. Each can also be set in the environment
// (--name-rule is WEARROUND_NAME_RULE) and in the file given by --config.
type flags struct {
	*flag.FlagSet
	usage  string // the lines that -h prints above the flags
	shared bool   // the file may hold settings of other commands
}

func newFlags(name, usage string) *flags {
	fs := flag.NewFlagSet("wearround "+name, flag.ContinueOnError)
	fs.SetOutput(io.Discard) // what is wrong is said once, by the caller
	fs.String("config", "", "`file` with lines of \"name value\", one setting each")
	return &flags{FlagSet: fs, usage: usage, shared: name != "serve"}
}

// parse reads the command line, the environment and the file, in that order of
// weight, and gives the arguments: from least to most of them, flags before,
// between or after. Help goes to stdout.
func (f *flags) parse(args []string, stdout io.Writer, least, most int) (rest []string, err error) {
	for {
		if err := f.Parse(args); err != nil {
			return nil, f.wrong(err, stdout)
		}
		if f.NArg() == 0 {
			break
		}
		if parsed := len(args) - f.NArg(); parsed > 0 && args[parsed-1] == "--" {
			rest = append(rest, f.Args()...)
			break
		}
		rest, args = append(rest, f.Arg(0)), f.Args()[1:]
	}
	err = ff.Parse(f.FlagSet, nil, ff.WithEnvVarPrefix("WEARROUND"), ff.WithConfigFileFlag("config"),
		ff.WithConfigFileParser(settingLines), ff.WithIgnoreUndefined(f.shared))
	if err != nil {
		return nil, f.wrong(err, stdout)
	}
	if len(rest) > most {
		return nil, &usageError{fmt.Sprintf("%s takes no argument %q; see %s -h", f.Name(), rest[most], f.Name())}
	}
	if len(rest) < least {
		return nil, &usageError{fmt.Sprintf("%s needs more to go on\n%s", f.Name(), strings.TrimRight(f.usage, "\n"))}
	}
	return rest, nil
}

// wrong is what is wrong with a command line, or the help that was asked for.
func (f *flags) wrong(err error, stdout io.Writer) error {
	if !errors.Is(err, flag.ErrHelp) {
		return &usageError{fmt.Sprintf("%v; see %s -h", err, f.Name())}
	}
	fmt.Fprintf(stdout, "%s\nFlags, each also as WEARROUND_NAME in the environment or in the file given by --config:\n", f.usage)
	f.SetOutput(stdout)
	f.PrintDefaults()
	return flag.ErrHelp
}

// settingLines reads a file of settings: a name and its value on each line,
// nothing twice. Lines that begin with # say something to people.
func settingLines(r io.Reader, set func(name, value string) error) error {
	data, err := io.ReadAll(r)
	if err != nil {
		return fmt.Errorf("the file of settings cannot be read: %w", err)
	}
	at := map[string]int{}
	lines := bufio.NewScanner(bytes.NewReader(data))
	for n := 1; lines.Scan(); n++ {
		line := strings.TrimSpace(lines.Text())
		if line == "" || line[0] == '#' {
			continue
		}
		name, value, _ := strings.Cut(line, " ")
		name = strings.TrimLeft(name, "-")
		if before := at[name]; before > 0 {
			return fmt.Errorf("line %d of the file of settings sets %s again, which line %d did: take one of them out", n, name, before)
		}
		at[name] = n
		if err := set(name, strings.TrimSpace(value)); err != nil {
			return fmt.Errorf("line %d of the file of settings: %w", n, err)
		}
	}
	return lines.Err()
}

// usageError is a command that was written wrongly.
type usageError struct{ what string }

func (e *usageError) Error() string { return e.what }

// status says what came of a command, and on stderr what went wrong.
func status(err error, stderr io.Writer) int {
	switch {
	case err == nil, errors.Is(err, flag.ErrHelp):
		return exitOK
	case errors.Is(err, errHeld): // the output has said it
		return exitHeld
	default:
		fmt.Fprintln(stderr, "wearround:", wordsOf(err))
	}
	if _, ok := errors.AsType[*usageError](err); ok || store.CodeOf(err) == store.Invalid { // what was typed cannot be
		return exitUsage
	}
	return exitHeld
}

// asUsage makes an error one of usage.
func asUsage(err error) error {
	if err == nil || errors.Is(err, flag.ErrHelp) {
		return err
	}
	return &usageError{err.Error()}
}

// names of the commands, in order, for the shell.
func commandNames() []string { return slices.Sorted(maps.Keys(commands)) }
