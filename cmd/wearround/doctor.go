package main

import (
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
	"wearround/worker"
	"wearround/worker/backup"
)

// finding is one thing that doctor looked at.
type finding struct {
	what string
	good bool
	said string
}

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
		if !f.good {
			mark = "LOOK"
			bad++
		}
		fmt.Fprintf(stdout, "%s  %-16s %s\n", mark, f.what, f.said)
	}
	if bad > 0 {
		return fmt.Errorf("%d things need somebody", bad)
	}
	return nil
}

// examine looks at everything, whatever the one before it showed.
func examine(ctx context.Context, c *config) []finding {
	out := []finding{examineClock(time.Now()), examineZone(c)}
	out = append(out, examineFolders(c)...)
	out = append(out, examineReach(c), examineBackup(c))
	add := func(what string, good bool, said string) { out = append(out, finding{what, good, said}) }
	add("protocol", c.protocol.Status != "" && !strings.Contains(c.protocol.Status, "unsigned"),
		fmt.Sprintf("version %s, %s", c.protocol.Version, c.protocol.Status))
	add("practice", c.practice.Name != "" && c.practice.Phone != "", or(c.practice.Name != "" && c.practice.Phone != "",
		"name and telephone are set, so letters can be written", "letters cannot be written without --practice and --practice-phone"))
	return append(out, examineData(ctx, c)...)
}

func or(cond bool, yes, no string) string {
	if cond {
		return yes
	}
	return no
}

func examineClock(now time.Time) finding {
	good := now.Year() >= 2026 && now.Year() < 2100
	return finding{"clock", good, or(good, "it is "+now.UTC().Format("2 January 2006 15:04 UTC")+": compare it with your own", "the clock of this machine is wrong: "+now.UTC().Format(time.RFC3339))}
}

func examineZone(c *config) finding {
	good := c.zone.String() != "Local" || runtime.GOOS == "windows"
	return finding{"zone", good, or(good, "wearers' clocks are in "+c.zone.String(), "no --zone is given: this machine's own, "+time.Now().Format("-07:00")+", is taken; give it by name, as in Australia/Sydney")}
}

func examineFolders(c *config) []finding {
	var out []finding
	for _, dir := range []struct{ what, path string }{{"data folder", c.data}, {"watched folder", c.drop}} {
		info, err := os.Stat(dir.path)
		switch {
		case errors.Is(err, os.ErrNotExist):
			out = append(out, finding{dir.what, true, dir.path + " is not there yet; serve makes it"})
			continue
		case err != nil || !info.IsDir():
			out = append(out, finding{dir.what, false, dir.path + " cannot be reached or is no folder"})
			continue
		}
		kind := diskKind(dir.path)
		local := dir.path != c.data || kind != "network"
		out = append(out, finding{dir.what, local, or(local, dir.path+" is there"+or(kind == "", "", ", on a "+kind+" disk"), dir.path+" lies on a network share: the database must lie on a local disk")})
	}
	err := c.checkRights()
	out = append(out, finding{"rights", err == nil, or(err == nil, "nobody else may write to the folders or read the key", fmt.Sprint(err))})
	if free := store.FreeBytes(existing(c.data)); free >= 0 {
		const least = 2_000_000_000
		out = append(out, finding{"room", free >= least, fmt.Sprintf("%.1f GB are left on the disk of the data folder", float64(free)/1e9)})
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

func examineReach(c *config) finding {
	switch {
	case c.certificate != nil:
		return finding{"reach", true, "others come in by TLS, which this program ends"}
	case c.proxy != "":
		return finding{"reach", true, "others come in by the proxy of " + c.proxy}
	}
	return finding{"reach", true, "this machine alone is served; others need --tls-cert and --tls-key, or --behind-proxy"}
}

func examineBackup(c *config) finding {
	f := finding{what: "backup"}
	switch {
	case c.backup == "":
		f.said = "no backups are made: give --backup a folder on another disk or share"
		return f
	case sameDisk(existing(c.data), existing(c.backup)):
		f.said = c.backup + " is on the same disk as the data, and would be lost with it"
		return f
	}
	list, err := backup.List(c.backup)
	switch {
	case errors.Is(err, os.ErrNotExist) || err == nil && len(list) == 0:
		f.good, f.said = true, "none is made yet; serve makes one every hour"
	case err != nil:
		f.said = err.Error()
	default:
		age := time.Since(list[0].MadeAt).Round(time.Minute)
		f.good, f.said = age < 24*time.Hour, fmt.Sprintf("the newest of %d is %v old", len(list), age)
	}
	return f
}

// examineData opens the practice, where there is one, and holds it together.
func examineData(ctx context.Context, c *config) []finding {
	a := &app{config: *c}
	if err := a.checkFolder(); err != nil {
		return []finding{{"data", false, err.Error()}}
	}
	path := filepath.Join(c.data, "wearround.db")
	if _, err := os.Stat(path); err != nil {
		return []finding{{"data", true, "there is no practice here yet"}}
	}
	d := &desk{config: *c}
	if err := d.open(ctx); err != nil {
		return []finding{{"data", false, wordsOf(err)}}
	}
	defer d.Close()
	var out []finding
	noted, err := worker.NewAnchors(c.anchors).All()
	if err == nil {
		var k store.LogCheck
		if k, err = d.VerifyLog(ctx, noted...); err == nil && !k.OK() {
			err = fmt.Errorf("at entry %d, %s", k.Broken, k.Why)
		}
	}
	out = append(out, finding{"log", err == nil, or(err == nil, "it holds together", fmt.Sprint(err))})
	err = d.Whole(ctx)
	if err == nil {
		var data store.DataCheck
		if data, err = d.VerifyData(ctx, true); err == nil && !data.OK() {
			err = errors.New(data.String() + " does not fit its seal")
		}
	}
	return append(out, finding{"data", err == nil, or(err == nil, "everything fits its seal", fmt.Sprint(err))})
}
