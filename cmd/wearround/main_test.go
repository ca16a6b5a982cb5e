package main

import (
	"bytes"
	"context"
	"errors"
	"flag"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"
	"github.com/rogpeppe/go-internal/testscript"

	"wearround/store"
	"wearround/store/storetest"
)

var update = flag.Bool("update", false, "write the golden files anew")

// programs are what the tests can start as processes of their own.
var programs = map[string]func(){}

// TestMain lets scripts and the crash test start this very program as
// "wearround".
func TestMain(m *testing.M) {
	programs["wearround"] = main
	testscript.Main(m, programs)
}

func TestScripts(t *testing.T) {
	testscript.Run(t, testscript.Params{
		Dir: filepath.Join(root, "testdata", "scripts"),
		Setup: func(e *testscript.Env) error {
			exports, err := filepath.Abs(filepath.Join(root, "testdata", "exports"))
			e.Setenv("EXPORTS", exports)
			return err
		},
		Cmds:          map[string]func(*testscript.TestScript, bool, []string){"practice": practiceCommand, "calm": calmCommand},
		UpdateScripts: *update,
	})
}

// practiceCommand makes, for a script, a practice with the people of the demo
// in a folder.
func practiceCommand(ts *testscript.TestScript, neg bool, args []string) {
	if neg || len(args) != 1 {
		ts.Fatalf("usage: practice folder")
	}
	ts.Check(makePractice(ts.MkAbs(args[0])))
}

func makePractice(dir string) error {
	ctx := context.Background()
	if err := storetest.Empty(filepath.Join(dir, "wearround.db")); err != nil {
		return err
	}
	s, err := store.Open(ctx, filepath.Join(dir, "wearround.db"), time.Now)
	if err != nil {
		return err
	}
	_, err = useLogKey(ctx, s, filepath.Join(dir, "audit.key"))
	if err == nil {
		err = addDemoPeople(ctx, s)
	}
	return errors.Join(err, s.Close())
}

// TestAnalyseGolden holds the JSON of analyse, which others may read, to the byte.
func TestAnalyseGolden(t *testing.T) {
	exports, err := filepath.Glob(filepath.Join(root, "testdata", "exports", "*"))
	if err != nil || len(exports) == 0 {
		t.Fatal("no example exports:", err)
	}
	for _, name := range exports {
		t.Run(filepath.Base(name), func(t *testing.T) { analyseGolden(t, name, filepath.Base(name)) })
	}
	t.Run("with a register", func(t *testing.T) {
		name := filepath.Join(root, "testdata", "exports", "two-weeks-dips.csv")
		analyseGolden(t, name, "two-weeks-dips.csv.known", "--register", filepath.Join(root, "testdata", "people.jsonl"))
	})
}

// analyseGolden compares what analyse prints of one file with what is kept.
func analyseGolden(t *testing.T, name, kept string, flags ...string) {
	var out, errs bytes.Buffer
	status := run(context.Background(), append([]string{"analyse", name, "--json", "--zone", "Australia/Sydney"}, flags...), &out, &errs)
	if want := strings.Contains(out.String(), `"state":"held"`); (status == exitHeld) != want || errs.Len() > 0 {
		t.Errorf("exit status %d, held %v, said %q", status, want, errs.String())
	}
	golden := filepath.Join(root, "testdata", "analysed", kept+".golden")
	if *update {
		if err := os.WriteFile(golden, out.Bytes(), 0o600); err != nil {
			t.Fatal(err)
		}
	}
	want, err := os.ReadFile(golden)
	if err != nil {
		t.Fatal(err)
	}
	if d := cmp.Diff(string(want), out.String()); d != "" {
		t.Errorf("differs from %s (write it anew with -update if the change is meant):\n%s", golden, d)
	}
}

// TestWrittenWronglyIsTwo: what was typed that cannot be is a fault of usage,
// whichever part of the program says so.
func TestWrittenWronglyIsTwo(t *testing.T) {
	dir := filepath.Join(t.TempDir(), "practice")
	if err := makePractice(dir); err != nil {
		t.Fatal(err)
	}
	for _, line := range []string{
		"serve extra", "serve --addr 192.0.2.7:80", "serve --addr nonsense", "serve --addr 127.0.0.1:99999", "serve --zone Nowhere/Land", "serve --tls-cert x",
		"demo --addr 192.0.2.7:80", "analyse", "audit show --from 2020-13-01 --data DIR", "protocol sign", "print nothing",
		"user add nela --name Nela --roles captain --data DIR", "token revoke one --data DIR",
	} {
		var out, errs bytes.Buffer
		if status := run(t.Context(), strings.Fields(strings.ReplaceAll(line, "DIR", dir)), &out, &errs); status != exitUsage {
			t.Errorf("wearround %s: exit status %d, %s", line, status, errs.String())
		}
	}
}
