package main

import (
	"bytes"
	"context"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"strings"
	"testing"

	"github.com/prometheus/client_golang/prometheus"

	"wearround/server/door"
	"wearround/server/servertest"
	"wearround/worker"
)

func printedText(t *testing.T, what string) string {
	t.Helper()
	var out, errs bytes.Buffer
	if s := run(context.Background(), []string{"print", what}, &out, &errs); s != exitOK {
		t.Fatal(errs.String())
	}
	return out.String()
}

// TestPrintedUnit has systemd judge the unit, where there is one.
func TestPrintedUnit(t *testing.T) {
	if _, err := exec.LookPath("systemd-analyze"); err != nil {
		t.Skip("no systemd-analyze on this machine: the unit was not judged")
	}
	unit := strings.ReplaceAll(printedText(t, "systemd"), "/usr/local/bin/wearround", "/bin/true")
	path := filepath.Join(t.TempDir(), "wearround.service")
	if err := os.WriteFile(path, []byte(unit), 0o600); err != nil {
		t.Fatal(err)
	}
	out, err := exec.Command("systemd-analyze", "verify", path).CombinedOutput()
	if err != nil || strings.Contains(string(out), "wearround.service:") {
		t.Errorf("%v\n%s", err, out)
	}
}

// TestPrintedCompletion has bash read it.
func TestPrintedCompletion(t *testing.T) {
	bash, err := exec.LookPath("bash")
	if err != nil {
		t.Skip("no bash on this machine: its completion was not tried")
	}
	cmd := exec.Command(bash, "-c", printedText(t, "bash")+"\nCOMP_WORDS=(wearround ba); COMP_CWORD=1; _wearround; echo ${COMPREPLY[@]}")
	if out, err := cmd.CombinedOutput(); err != nil || strings.TrimSpace(string(out)) != "backup" {
		t.Errorf("%v: %q", err, out)
	}
}

// TestAlertsNameMeasures makes sure that each rule asks for a measure that the
// program gives.
func TestAlertsNameMeasures(t *testing.T) {
	text := printedText(t, "alerts")
	rules := regexp.MustCompile(`(?m)^ +- alert: (\w+)\n +expr: (.+)$`).FindAllStringSubmatch(text, -1)
	if len(rules) < 5 || len(rules) != strings.Count(text, "- alert:") {
		t.Fatalf("%d rules", len(rules))
	}
	registry := prometheus.NewRegistry()
	servertest.New(t, func(c *door.Config) { c.Registry = registry })
	worker.NewMetrics(registry)
	families, err := registry.Gather()
	if err != nil {
		t.Fatal(err)
	}
	known := map[string]bool{"wearround_job_last_success_timestamp_seconds": true} // once a job ran
	for _, f := range families {
		known[f.GetName()] = true
	}
	for _, r := range rules {
		for _, name := range regexp.MustCompile(`wearround_\w+`).FindAllString(r[2], -1) {
			if !known[name] {
				t.Errorf("%s asks for %s, which the program does not give", r[1], name)
			}
		}
	}
}

// TestRelease builds the program for this machine as a release does: twice, to
// the byte, with the licence texts of every module.
func TestRelease(t *testing.T) {
	if testing.Short() || os.Getenv("WEARROUND_RELEASE") == "" {
		t.Skip("set WEARROUND_RELEASE=1 to build the program twice for each of six systems")
	}
	dir := t.TempDir()
	out, err := exec.Command(filepath.Join(root, ".ci", "release"), dir).CombinedOutput()
	if err != nil {
		t.Fatalf("%v\n%s", err, out)
	}
	built, err := filepath.Glob(filepath.Join(dir, "wearround-*"))
	if err != nil || len(built) != 6 {
		t.Errorf("built %v", built)
	}
}
