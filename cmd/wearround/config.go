package main

import (
	"cmp"
	"errors"
	"fmt"
	"io"
	"log/slog"
	"net/netip"
	"path/filepath"
	"strings"
	"time"

	"filippo.io/age"

	"wearround/web/letter"
	"wearround/worker"
	"wearround/worker/backup"
	"wearround/worker/wear"
)

// config is everything serve can be told.
type config struct {
	data     string
	drop     string
	addr     string
	zone     *time.Location
	rule     worker.NameRule
	protocol *wear.Protocol // of a file; nil: what the practice has signed, or the one that ships
	settle   time.Duration
	logJSON  bool
	logLevel slog.Level

	backup    string        // folder that backups go to, or ""
	recipient age.Recipient // whom they are encrypted to, or nil

	certificate *certificate   // own TLS, or nil
	proxy       string         // host name under which a proxy before this program ends TLS, or ""
	proxyFrom   []netip.Prefix // addresses that it speaks from; none is this machine
	dropOpen    bool           // everybody may write to the watched folder
	key         string         // file with the key of the log
	anchors     string         // file where the log is noted a second time
	practice    letter.Practice

	// open makes the second factor a choice. Only an invented practice is open.
	open bool

	now func() time.Time // the clock; nil is this machine's
}

// parseServe reads flags, environment and config file, in that order of weight.
func parseServe(args []string, stdout io.Writer) (config, error) {
	return parseServeAs("serve", "wearround serve [flags]    watch a folder, file what comes, serve the round\n", args, stdout)
}

// parseServeAs reads the settings of serve for a command that looks at them.
func parseServeAs(name, usage string, args []string, stdout io.Writer) (config, error) {
	fs := newFlags(name, usage)
	var (
		c        config
		zone     = fs.String("zone", "Local", "time zone of the wearers' clocks, as in Australia/Sydney")
		rule     = fs.String("name-rule", worker.DefaultNameRule, "where the patient's code stands in a file's name")
		protocol = fs.String("protocol", "", "protocol `file` (JSON); without it the signed one, or the shipped proposal")
		logs     = fs.String("log", "text", "form of the log: text or json")
	)
	fs.StringVar(&c.data, "data", "wearround-data", "`folder` for the database and the archive of originals; on a local disk")
	fs.StringVar(&c.drop, "drop", "", "watched `folder` (default: drop inside the data folder)")
	fs.StringVar(&c.addr, "addr", "127.0.0.1:8470", "`host:port` to serve on; an address that is not this machine's own needs --tls-cert and --tls-key, or --behind-proxy")
	cert := fs.String("tls-cert", "", "`file` with the certificate chain (PEM); a renewed one is taken without a restart")
	key := fs.String("tls-key", "", "`file` with its private key (PEM)")
	fs.StringVar(&c.proxy, "behind-proxy", "", "`name` under which a proxy before this program ends TLS; it must pass on Host, and put the client into X-Forwarded-For")
	fs.StringVar(&c.key, "audit-key", "", "`file` with the key of the log (default: audit.key in the data folder; keep a copy elsewhere)")
	fs.StringVar(&c.anchors, "anchors", "", "`file` where the audit log is noted every hour, best on another machine (default: audit.anchors in the data folder)")
	fs.StringVar(&c.practice.Name, "practice", "", "`name` of the practice, for its letters")
	fs.StringVar(&c.practice.Phone, "practice-phone", "", "`number` that patients ring, for its letters")
	fs.StringVar(&c.practice.Emergency, "emergency-phone", "", "`number` for emergency care, for its letters (default 000, or as set in the browser)")
	fs.DurationVar(&c.settle, "settle", 10*time.Second, "how long a file must be unchanged before it is taken")
	fs.StringVar(&c.backup, "backup", "", "`folder` on another disk or share where a backup is made every hour (see wearround backup -h)")
	proxyFrom := fs.String("proxy-from", "", "`addresses` that the proxy speaks from, with commas between, as in 192.0.2.7,10.1.0.0/16 (default: this machine)")
	fs.BoolVar(&c.dropOpen, "drop-open", false, "accept a watched folder that everybody may write to, as on some network shares")
	recipient := fs.String("backup-recipient", "", "public `key` (age1…) that backups are encrypted to; its identity must not lie on this machine")
	level := fs.String("log-level", "info", "what is logged at least: debug, info, warn or error")
	_, err := fs.parse(args, stdout, 0, 0)
	if err != nil {
		return c, err
	}
	return c, asUsage(c.check(serveTexts{*cert, *key, *logs, *level, *zone, *rule, *protocol, *recipient, *proxyFrom}))
}

// serveTexts are settings that are read further.
type serveTexts struct{ cert, key, logs, level, zone, rule, protocol, recipient, proxyFrom string }

// check reads them, and refuses what cannot be right.
func (c *config) check(t serveTexts) (err error) {
	c.defaults()
	if err := c.checkReach(t.cert, t.key); err != nil {
		return err
	}
	if c.proxyFrom, err = parsePrefixes(t.proxyFrom); err != nil {
		return err
	}
	if len(c.proxyFrom) > 0 && c.proxy == "" {
		return errors.New("--proxy-from needs --behind-proxy, the name that the proxy serves")
	}
	if c.settle < 20*time.Millisecond || c.settle > time.Hour {
		return errors.New("--settle must lie between 20ms and 1h")
	}
	if t.logs != "text" && t.logs != "json" {
		return errors.New("--log must be text or json")
	}
	c.logJSON = t.logs == "json"
	if err := c.logLevel.UnmarshalText([]byte(t.level)); err != nil {
		return errors.New("--log-level must be debug, info, warn or error")
	}
	if c.zone, err = loadZone(t.zone); err != nil {
		return err
	}
	if c.rule, err = worker.ParseNameRule(t.rule); err != nil {
		return err
	}
	if c.recipient, err = backup.ParseRecipient(t.recipient); err != nil {
		return err
	}
	if c.recipient != nil && c.backup == "" {
		return errors.New("--backup-recipient needs --backup, the folder that backups go to")
	}
	if t.protocol != "" {
		c.protocol, err = loadProtocol(t.protocol)
	}
	return err
}

// parsePrefixes reads addresses and networks with commas between.
func parsePrefixes(text string) (list []netip.Prefix, err error) {
	for part := range strings.SplitSeq(text, ",") {
		if part = strings.TrimSpace(part); part == "" {
			continue
		}
		p, err := netip.ParsePrefix(part)
		if a, e := netip.ParseAddr(part); err != nil && e == nil {
			p, err = a.Prefix(a.BitLen())
		}
		if err != nil {
			return nil, fmt.Errorf("--proxy-from: %q is no address and no network; write it as 192.0.2.7 or 10.1.0.0/16", part)
		}
		list = append(list, p)
	}
	return list, nil
}

func loadZone(name string) (*time.Location, error) {
	zone, err := time.LoadLocation(name)
	if err != nil {
		return nil, fmt.Errorf("--zone %q is not a known time zone; write it as in Europe/London", name)
	}
	return zone, nil
}

// defaults fills in the files that lie in the data folder unless told otherwise.
func (c *config) defaults() {
	c.drop = cmp.Or(c.drop, filepath.Join(c.data, "drop"))
	c.key = cmp.Or(c.key, filepath.Join(c.data, "audit.key"))
	c.anchors = cmp.Or(c.anchors, filepath.Join(c.data, "audit.anchors"))
	if c.now == nil {
		c.now = time.Now
	}
}
