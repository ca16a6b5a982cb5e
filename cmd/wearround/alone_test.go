//go:build linux

package main

import (
	"context"
	"fmt"
	"io"
	"net"
	"net/http"
	"net/http/cookiejar"
	"net/url"
	"os"
	"os/exec"
	"regexp"
	"strconv"
	"strings"
	"syscall"
	"testing"
	"time"
	"unsafe"
)

func init() { programs["wearround-alone"] = alone }

// alone runs the demo where there is no way out: it brings the machine's own
// interface up, waits until every file has been dealt with, signs in and opens
// pages, and then says how often anything asked for a way out.
func alone() {
	err := loopbackUp()
	if err == nil {
		err = workAlone()
	}
	if err != nil {
		fmt.Fprintln(os.Stderr, err)
		os.Exit(1)
	}
	out, err := waysOut()
	fmt.Println("ways out", out, err)
}

// loopbackUp brings lo up, which a new network namespace has down.
func loopbackUp() error {
	s, err := syscall.Socket(syscall.AF_INET, syscall.SOCK_DGRAM, 0)
	if err != nil {
		return err
	}
	defer syscall.Close(s)
	request := struct {
		name  [syscall.IFNAMSIZ]byte
		flags uint16
		_     [22]byte
	}{flags: syscall.IFF_UP}
	copy(request.name[:], "lo")
	if _, _, e := syscall.Syscall(syscall.SYS_IOCTL, uintptr(s), syscall.SIOCSIFFLAGS, uintptr(unsafe.Pointer(&request))); e != 0 {
		return e
	}
	return nil
}

// workAlone runs the demo until its files are dealt with and its pages answer.
func workAlone() error {
	ctx, stop := context.WithTimeout(context.Background(), 3*time.Minute)
	defer stop()
	out := &watched{want: "dealt with", seen: make(chan struct{})}
	status := make(chan int, 1)
	go func() {
		status <- run(ctx, []string{"demo", "--patients", "20", "--addr", "127.0.0.1:0"}, out, io.Discard)
	}()
	select {
	case <-out.seen:
	case s := <-status:
		return fmt.Errorf("the demo ended with status %d: %s", s, out)
	}
	base := regexp.MustCompile(`http://127\S+`).FindString(out.String())
	jar, err := cookiejar.New(nil)
	if err != nil {
		return err
	}
	browser := &http.Client{Jar: jar}
	q, err := http.NewRequest(http.MethodPost, base+"sign-in", strings.NewReader(url.Values{"login": {"lead"}, "password": {demoPassword}}.Encode()))
	if err != nil {
		return err
	}
	q.Header.Set("Content-Type", "application/x-www-form-urlencoded")
	q.Header.Set("Sec-Fetch-Site", "same-origin")
	for _, path := range []string{"sign-in", "", "wears/1", "files", "audit", "system", "readyz"} {
		if path != "sign-in" {
			if q, err = http.NewRequest(http.MethodGet, base+path, nil); err != nil {
				return err
			}
		}
		resp, err := browser.Do(q)
		if err != nil {
			return err
		}
		resp.Body.Close()
		if resp.StatusCode != http.StatusOK || path != "sign-in" && resp.Request.URL.Path == "/sign-in" {
			return fmt.Errorf("/%s: %s at %s", path, resp.Status, resp.Request.URL.Path)
		}
	}
	stop()
	if s := <-status; s != exitOK {
		return fmt.Errorf("the demo stopped with status %d", s)
	}
	return nil
}

// waysOut is how often something in this namespace asked to send where no route
// leads, over IPv4 and IPv6. A look for a name counts: its servers are elsewhere.
func waysOut() (n int, err error) {
	v4, err := os.ReadFile("/proc/net/snmp")
	if err != nil {
		return 0, err
	}
	var lines [][]string
	for line := range strings.Lines(string(v4)) {
		if strings.HasPrefix(line, "Ip:") {
			lines = append(lines, strings.Fields(line))
		}
	}
	if len(lines) != 2 {
		return 0, fmt.Errorf("the counts of IPv4 cannot be read")
	}
	for i, name := range lines[0] {
		if name == "OutNoRoutes" {
			n, err = strconv.Atoi(lines[1][i])
		}
	}
	v6, _ := os.ReadFile("/proc/net/snmp6") // not there where there is no IPv6
	if m := regexp.MustCompile(`Ip6OutNoRoutes\s+(\d+)`).FindSubmatch(v6); m != nil && err == nil {
		var more int
		more, err = strconv.Atoi(string(m[1]))
		n += more
	}
	return n, err
}

func init() { programs["wearround-strays"] = strays }

// strays asks for a way out once, so that the count is seen to move.
func strays() {
	if err := loopbackUp(); err != nil {
		fmt.Fprintln(os.Stderr, err)
		os.Exit(1)
	}
	if c, err := net.DialTimeout("tcp", "192.0.2.1:9", time.Second); err == nil { // TEST-NET-1: nobody's
		c.Close()
	}
	n, err := waysOut()
	fmt.Println("ways out", n, err)
}

// TestNothingLeaves runs the demo in a network namespace that has no route:
// everything works, and nothing so much as asks for a way out.
func TestNothingLeaves(t *testing.T) {
	within := func(program string) (string, error) {
		cmd := exec.Command(program)
		cmd.SysProcAttr = &syscall.SysProcAttr{Cloneflags: syscall.CLONE_NEWUSER | syscall.CLONE_NEWNET,
			UidMappings: []syscall.SysProcIDMap{{ContainerID: 0, HostID: os.Getuid(), Size: 1}}, GidMappings: []syscall.SysProcIDMap{{ContainerID: 0, HostID: os.Getgid(), Size: 1}}}
		out, err := cmd.CombinedOutput()
		return string(out), err
	}
	if out, err := within("wearround-strays"); err != nil {
		t.Skipf("no network namespace of one's own can be made here: %v %s", err, out)
	} else if strings.TrimSpace(out) == "ways out 0 <nil>" {
		t.Skip("this machine does not count what finds no route")
	}
	out, err := within("wearround-alone")
	if err != nil || strings.TrimSpace(out) != "ways out 0 <nil>" {
		t.Errorf("%v: %s", err, out)
	}
}
