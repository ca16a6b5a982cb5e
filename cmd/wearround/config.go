package main

import (
	"cmp"
	"errors"
	"flag"
	"fmt"
	"io"
	"path/filepath"
	"time"

	"github.com/peterbourgon/ff/v3"

	"wearround/web/letter"
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

	certificate *certificate // own TLS, or nil
	proxy       string       // host name under which a proxy before this program ends TLS, or ""
	key         string       // file with the key of the audit log
	anchors     string       // file where the log is noted a second time
	practice    letter.Practice

	// open makes the second factor a choice. Only an invented practice is open.
	open bool
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
	fs.StringVar(&c.addr, "addr", "127.0.0.1:8470", "`host:port` to serve on; an address that is not this machine's own needs --tls-cert and --tls-key, or --behind-proxy")
	cert := fs.String("tls-cert", "", "`file` with the certificate chain (PEM); a renewed one is taken without a restart")
	key := fs.String("tls-key", "", "`file` with its private key (PEM)")
	fs.StringVar(&c.proxy, "behind-proxy", "", "`name` under which a proxy before this program ends TLS; it must pass on Host, and put the client into X-Forwarded-For")
	fs.StringVar(&c.key, "audit-key", "", "`file` with the key of the audit log (default: audit.key in the data folder; keep a copy elsewhere)")
	fs.StringVar(&c.anchors, "anchors", "", "`file` where the audit log is noted every hour, best on another machine (default: audit.anchors in the data folder)")
	fs.StringVar(&c.practice.Name, "practice", "", "`name` of the practice, for its letters")
	fs.StringVar(&c.practice.Phone, "practice-phone", "", "`number` that patients ring, for its letters")
	fs.StringVar(&c.practice.Emergency, "emergency-phone", "000", "`number` for emergency care, for its letters")
	fs.DurationVar(&c.settle, "settle", 10*time.Second, "how long a file must be unchanged before it is taken")
	fs.String("config", "", "`file` with lines of \"name value\"")
	err := ff.Parse(fs, args, ff.WithEnvVarPrefix("WEARROUND"), ff.WithConfigFileFlag("config"), ff.WithConfigFileParser(ff.PlainParser))
	if err != nil {
		return c, err
	}
	if fs.NArg() > 0 {
		return c, fmt.Errorf("serve takes no argument %q; see wearround serve -h", fs.Arg(0))
	}
	c.defaults()
	if err := c.checkReach(*cert, *key); err != nil {
		return c, err
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

// defaults fills in the files that lie in the data folder unless told otherwise.
func (c *config) defaults() {
	c.drop = cmp.Or(c.drop, filepath.Join(c.data, "drop"))
	c.key = cmp.Or(c.key, filepath.Join(c.data, "audit.key"))
	c.anchors = cmp.Or(c.anchors, filepath.Join(c.data, "audit.anchors"))
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
