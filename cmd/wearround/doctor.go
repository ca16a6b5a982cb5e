package main

import (
	"cmp"
	"context"
	"errors"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"runtime"
	"strings"
	"time"

	"wearround/store"
	"wearround/web"
	"wearround/worker"
	"wearround/worker/backup"
	"wearround/worker/wear"
)

const doctorUsage = `wearround doctor [flags of serve]

Looks at an installation, running or not, and says in plain words what is right and what is not: clock,
zone, folders and their rights, disk, TLS, backups, protocol, the practice's name. Nothing is changed.
Exit status 0: nothing stands against it; 1: something does.
`

// doctorCommand checks an installation with the settings of serve.
func doctorCommand(ctx context.Context, args []string, stdout, _ io.Writer) error {
	c, err := parseServeAs("doctor", doctorUsage, args, stdout)
	if err != nil {
		return err
	}
	bad := 0
	for _, f := range examine(ctx, &c) {
		mark := "good"
		if !f.Good {
			mark = "LOOK"
			bad++
		}
		fmt.Fprintf(stdout, "%s  %-16s %s\n", mark, f.What, f.Said)
	}
	if bad > 0 {
		return fmt.Errorf("%d things need somebody", bad)
	}
	return nil
}

// examine looks at everything, whatever the one before it showed: at the
// installation, and at the practice where there is one.
func examine(ctx context.Context, c *config) []web.Check {
	d := &desk{config: *c}
	if shut := d.openThere(ctx); shut != nil {
		return append(c.installation(ctx, nil), *shut)
	}
	defer d.Close()
	return append(c.installation(ctx, d.Store), examineData(ctx, d)...)
}

// openThere opens a practice that may not be there; where it does not, it says
// why.
func (d *desk) openThere(ctx context.Context) *web.Check {
	if err := (&app{config: d.config}).checkFolder(); err != nil {
		return &web.Check{What: "data", Said: err.Error()}
	}
	if _, err := os.Stat(filepath.Join(d.data, "wearround.db")); err != nil {
		return &web.Check{What: "data", Good: true, Said: "there is no practice here yet"}
	}
	if err := d.open(ctx); err != nil {
		return &web.Check{What: "data", Said: wordsOf(err)}
	}
	return nil
}

// installation is what doctor and the page System both say of what the program
// was started with and stands on. s is the practice, or nil where it cannot be
// opened.
func (c *config) installation(ctx context.Context, s *store.Store) []web.Check {
	out := []web.Check{examineClock(c.now()), examineZone(c)}
	out = append(out, examineFolders(c, s)...)
	return append(out, examineReach(c), examineBackup(c), examineProtocol(ctx, c, s), examinePractice(ctx, c, s))
}

// examineProtocol looks at the one that is in force.
func examineProtocol(ctx context.Context, c *config, s *store.Store) web.Check {
	p := cmp.Or(c.protocol, wear.DefaultProtocol())
	if s != nil && c.protocol == nil {
		k, err := s.SignedProtocol(ctx, c.now())
		if err != nil {
			return web.Check{What: "protocol", Said: wordsOf(err)}
		}
		if k != nil {
			p = k.Protocol
		}
	}
	signed := p.Status != "" && !strings.Contains(p.Status, "unsigned")
	return web.Check{What: "protocol", Good: signed, Said: fmt.Sprintf("version %s, %s", p.Version, p.Status)}
}

// examinePractice looks whether letters can say who writes: as given at the
// start, or as set in the browser.
func examinePractice(ctx context.Context, c *config, s *store.Store) web.Check {
	name, phone := c.practice.Name, c.practice.Phone
	if s != nil {
		set, err := s.Practice(ctx)
		if err != nil {
			return web.Check{What: "practice", Said: wordsOf(err)}
		}
		name, phone = cmp.Or(name, set.Name), cmp.Or(phone, set.Telephone)
	}
	good := name != "" && phone != ""
	return web.Check{What: "practice", Good: good, Said: or(good, "name and telephone are set, so letters can be written",
		"letters cannot be written until name and telephone are set, under Settings or with --practice and --practice-phone")}
}

func or(cond bool, yes, no string) string {
	if cond {
		return yes
	}
	return no
}

func examineClock(now time.Time) web.Check {
	good := now.Year() >= 2026 && now.Year() < 2100
	return web.Check{What: "clock", Good: good, Said: or(good, "it is "+now.UTC().Format("2 January 2006 15:04 UTC")+": compare it with your own", "the clock of this machine is wrong: "+now.UTC().Format(time.RFC3339))}
}

func examineZone(c *config) web.Check {
	good := c.zone.String() != "Local" || runtime.GOOS == "windows"
	return web.Check{What: "zone", Good: good, Said: or(good, "wearers' clocks are in "+c.zone.String(), "no --zone is given: this machine's own, "+c.now().Format("-07:00")+", is taken; give it by name, as in Australia/Sydney")}
}

func examineFolders(c *config, s *store.Store) []web.Check {
	var out []web.Check
	for _, dir := range []struct{ what, path string }{{"data folder", c.data}, {"watched folder", c.drop}} {
		info, err := os.Stat(dir.path)
		switch {
		case errors.Is(err, os.ErrNotExist):
			out = append(out, web.Check{What: dir.what, Good: true, Said: dir.path + " is not there yet; serve makes it"})
			continue
		case err != nil || !info.IsDir():
			out = append(out, web.Check{What: dir.what, Good: false, Said: dir.path + " cannot be reached or is no folder"})
			continue
		}
		kind := diskKind(dir.path)
		local := dir.path != c.data || kind != "network"
		out = append(out, web.Check{What: dir.what, Good: local, Said: or(local, dir.path+" is there"+or(kind == "", "", ", on a "+kind+" disk"), dir.path+" lies on a network share: the database must lie on a local disk")})
	}
	err := c.checkRights()
	out = append(out, web.Check{What: "rights", Good: err == nil, Said: or(err == nil, "nobody else may write to the folders or read the key", fmt.Sprint(err))})
	var d store.Disk
	if s != nil {
		d, _ = s.Disk() // unknown is nought: the room is judged all the same
	}
	if free := store.FreeBytes(existing(c.data)); free >= 0 {
		out = append(out, web.Check{What: "room", Good: web.EnoughRoom(free, d.Database), Said: fmt.Sprintf("%.1f GB are left on the disk of the data folder", float64(free)/1e9)})
	}
	return out
}

// existing is the nearest folder above a path that is there.
func existing(path string) string {
	abs, err := filepath.Abs(path)
	if err != nil {
		return "."
	}
	for {
		if _, err := os.Stat(abs); err == nil || filepath.Dir(abs) == abs {
			return abs
		}
		abs = filepath.Dir(abs)
	}
}

func examineReach(c *config) web.Check {
	switch {
	case c.certificate != nil:
		return web.Check{What: "reach", Good: true, Said: "others come in by TLS, which this program ends"}
	case c.proxy != "":
		return web.Check{What: "reach", Good: true, Said: "others come in by the proxy of " + c.proxy}
	}
	return web.Check{What: "reach", Good: true, Said: "this machine alone is served; others need --tls-cert and --tls-key, or --behind-proxy"}
}

func examineBackup(c *config) web.Check {
	f := web.Check{What: "backup"}
	switch {
	case c.backup == "":
		f.Said = "no backups are made: give --backup a folder on another disk or share"
		return f
	case sameDisk(existing(c.data), existing(c.backup)):
		f.Said = c.backup + " is on the same disk as the data, and would be lost with it"
		return f
	}
	list, err := backup.List(c.backup)
	switch {
	case errors.Is(err, os.ErrNotExist) || err == nil && len(list) == 0:
		f.Good, f.Said = true, "none is in "+c.backup+" yet; serve makes one every hour"
	case err != nil:
		f.Said = c.backup + ": " + err.Error()
	default:
		age := c.now().Sub(list[0].MadeAt).Round(time.Minute)
		f.Good, f.Said = age < 24*time.Hour, fmt.Sprintf("the newest of %d in %s is %v old", len(list), c.backup, age)
	}
	return f
}

// examineData holds a practice together.
func examineData(ctx context.Context, d *desk) []web.Check {
	var out []web.Check
	noted, err := worker.NewAnchors(d.config.anchors).All()
	if err == nil {
		var k store.LogCheck
		if k, err = d.VerifyLog(ctx, noted...); err == nil && !k.OK() {
			err = fmt.Errorf("at entry %d, %s", k.Broken, k.Why)
		}
	}
	out = append(out, web.Check{What: "log", Good: err == nil, Said: or(err == nil, "it holds together", fmt.Sprint(err))})
	err = d.Whole(ctx)
	if err == nil {
		var data store.DataCheck
		if data, err = d.VerifyData(ctx, true); err == nil && !data.OK() {
			err = errors.New(data.String() + " does not fit its seal")
		}
	}
	return append(out, web.Check{What: "data", Good: err == nil, Said: or(err == nil, "everything fits its seal", fmt.Sprint(err))})
}
