package main

import (
	"encoding/json"
	"errors"
	"flag"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"time"

	"github.com/peterbourgon/ff/v3"

	"wearround/worker"
	"wearround/worker/wear"
)

// config is everything serve can be told.
type config struct {
	data     string
	drop     string
	addr     string
	zone     *time.Location
	rule     worker.NameRule
	protocol *wear.Protocol
	settle   time.Duration
	logJSON  bool
}

// parseServe reads flags, environment and config file, in that order of weight.
func parseServe(args []string, stderr io.Writer) (config, error) {
	fs := flag.NewFlagSet("wearround serve", flag.ContinueOnError)
	fs.SetOutput(stderr)
	var (
		c        config
		zone     = fs.String("zone", "Local", "time zone of the wearers' clocks, as in Australia/Sydney")
		rule     = fs.String("name-rule", worker.DefaultNameRule, "where the patient's code stands in a file's name")
		protocol = fs.String("protocol", "", "protocol `file` (JSON); without it the shipped proposal")
		logs     = fs.String("log", "text", "form of the log: text or json")
	)
	fs.StringVar(&c.data, "data", "wearround-data", "`folder` for the database and the archive of originals; on a local disk")
	fs.StringVar(&c.drop, "drop", "", "watched `folder` (default: drop inside the data folder)")
	fs.StringVar(&c.addr, "addr", "127.0.0.1:8470", "`host:port` to serve on; only this machine's own addresses are accepted")
	fs.DurationVar(&c.settle, "settle", 10*time.Second, "how long a file must be unchanged before it is taken")
	fs.String("config", "", "`file` with lines of \"name value\"")
	err := ff.Parse(fs, args, ff.WithEnvVarPrefix("WEARROUND"), ff.WithConfigFileFlag("config"), ff.WithConfigFileParser(ff.PlainParser))
	if err != nil {
		return c, err
	}
	if fs.NArg() > 0 {
		return c, fmt.Errorf("serve takes no argument %q; see wearround serve -h", fs.Arg(0))
	}
	if c.drop == "" {
		c.drop = filepath.Join(c.data, "drop")
	}
	if c.settle < 20*time.Millisecond || c.settle > time.Hour {
		return c, errors.New("--settle must lie between 20ms and 1h")
	}
	if *logs != "text" && *logs != "json" {
		return c, errors.New("--log must be text or json")
	}
	c.logJSON = *logs == "json"
	if c.zone, err = time.LoadLocation(*zone); err != nil {
		return c, fmt.Errorf("--zone %q is not a known time zone; write it as in Europe/London", *zone)
	}
	if c.rule, err = worker.ParseNameRule(*rule); err != nil {
		return c, err
	}
	c.protocol, err = loadProtocol(*protocol)
	return c, err
}

// loadProtocol reads and checks a protocol file; without a name it gives the
// shipped proposal.
func loadProtocol(name string) (*wear.Protocol, error) {
	p := wear.DefaultProtocol()
	if name == "" {
		return p, nil
	}
	f, err := os.Open(name)
	if err != nil {
		return nil, fmt.Errorf("protocol file: %w", err)
	}
	defer f.Close()
	d := json.NewDecoder(f)
	d.DisallowUnknownFields()
	if err := d.Decode(p); err != nil {
		return nil, fmt.Errorf("protocol file %s: %w", name, err)
	}
	if err := p.Validate(); err != nil {
		return nil, fmt.Errorf("protocol file %s: %w", name, err)
	}
	return p, nil
}

// parseAnywhere parses flags that may stand before, between or after the
// arguments, and gives the arguments.
func parseAnywhere(fs *flag.FlagSet, args []string) ([]string, error) {
	var rest []string
	for {
		if err := fs.Parse(args); err != nil {
			return nil, err
		}
		if fs.NArg() == 0 {
			return rest, nil
		}
		rest, args = append(rest, fs.Arg(0)), fs.Args()[1:]
	}
}

// usageStatus is the exit status for an error of reading the command line.
func usageStatus(err error, stderr io.Writer) int {
	if errors.Is(err, flag.ErrHelp) {
		return exitOK
	}
	fmt.Fprintln(stderr, "wearround:", err)
	return exitUsage
}
