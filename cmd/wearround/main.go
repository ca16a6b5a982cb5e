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
	"syscall"
	_ "time/tzdata" // time zones are known on a machine without them
)

func main() {
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
	switch name, rest := args[0], args[1:]; name {
	case "demo":
		return demo(ctx, rest, stdout, stderr)
	case "serve":
		return serve(ctx, rest, stdout, stderr)
	case "analyse":
		return analyse(ctx, rest, stdout, stderr)
	case "user":
		return userCommand(ctx, rest, stdout, stderr)
	case "token":
		return tokenCommand(ctx, rest, stdout, stderr)
	case "verify":
		return verify(ctx, rest, stdout, stderr)
	case "version", "--version":
		fmt.Fprintln(stdout, "wearround", version())
		return exitOK
	case "help", "-h", "--help":
		fmt.Fprint(stdout, usage)
		return exitOK
	default:
		fmt.Fprintf(stderr, "wearround: there is no command %q\n\n%s", name, usage)
		return exitUsage
	}
}
