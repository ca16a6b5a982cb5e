// Command wearround sorts the sensor wears of a general practice: which need a
// person, how soon, and why.
//
// It is one program with a few subcommands; see usage.go for what each does
// and run.go for how the parts are put together.
package main

import (
	"context"
	"fmt"
	"io"
	"os"
	"os/signal"
	"runtime/debug"
	"syscall"
	_ "time/tzdata" // time zones are known on a machine without them
)

// memoryGoal is what the program keeps its memory under where it can, in bytes,
// unless GOMEMLIMIT says otherwise: the machine is a small one.
const memoryGoal = 256 << 20

func main() {
	if os.Getenv("GOMEMLIMIT") == "" {
		debug.SetMemoryLimit(memoryGoal)
	}
	ctx, stop := signal.NotifyContext(context.Background(), os.Interrupt, syscall.SIGTERM)
	go func() {
		<-ctx.Done()
		stop() // a second signal ends the program at once
	}()
	os.Exit(run(ctx, os.Args[1:], os.Stdout, os.Stderr))
}

// Exit statuses.
const (
	exitOK    = 0
	exitHeld  = 1 // analyse: something is held or could not be read; else: it failed
	exitUsage = 2
)

// run is the program without its process: arguments in, exit status out.
func run(ctx context.Context, args []string, stdout, stderr io.Writer) int {
	if len(args) == 0 {
		fmt.Fprint(stderr, usage)
		return exitUsage
	}
	name, rest := args[0], args[1:]
	switch name {
	case "--version":
		name = "version"
	case "help", "-h", "--help":
		if len(rest) == 0 {
			fmt.Fprint(stdout, usage)
			return exitOK
		}
		name, rest = rest[0], []string{"-h"}
	}
	command, ok := commands[name]
	if !ok {
		fmt.Fprintf(stderr, "wearround: there is no command %q\n\n%s", name, usage)
		return exitUsage
	}
	return status(command(ctx, rest, stdout, stderr), stderr)
}

// commands are what the program can be told to do. Each writes its help to
// stdout, refuses arguments that it has no use for, and gives what went wrong.
var commands map[string]func(ctx context.Context, args []string, stdout, stderr io.Writer) error

func init() { // the help of one of them lists them all
	commands = map[string]func(ctx context.Context, args []string, stdout, stderr io.Writer) error{
		"demo": demo, "serve": serve, "analyse": analyse, "user": userCommand, "token": tokenCommand, "verify": verify, "export": exportCommand,
		"audit": auditCommand, "protocol": protocolCommand,
		"backup": backupCommand, "restore": restoreCommand, "drill": drillCommand, "doctor": doctorCommand, "print": printCommand, "licences": licencesCommand, "version": versionCommand,
	}
}
