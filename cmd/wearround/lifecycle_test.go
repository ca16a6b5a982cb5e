package main

import (
	"context"
	"net"
	"net/http"
	"net/url"
	"path/filepath"
	"regexp"
	"strings"
	"testing"
)

// TestLifeIsLogged starts and stops the program at each level: at info the log
// says that it started, what was refused and that it stopped, by id and never by
// name; at error it says nothing of them.
func TestLifeIsLogged(t *testing.T) {
	for level, told := range map[string]bool{"info": true, "error": false} {
		t.Run(level, func(t *testing.T) {
			dir := filepath.Join(t.TempDir(), "practice")
			if err := newPracticeAt(t, dir, nil).Close(); err != nil {
				t.Fatal(err)
			}
			writeTestKey(t, dir)
			ctx, stop := context.WithCancel(t.Context())
			defer stop()
			out := &watched{want: "keeps everything in", seen: make(chan struct{})}
			log := &watched{want: "panic", seen: make(chan struct{})}
			status := make(chan int, 1)
			go func() {
				status <- run(ctx, []string{"serve", "--data", dir, "--addr", "127.0.0.1:0", "--zone", "UTC", "--log-level", level}, out, log)
			}()
			select {
			case <-out.seen:
			case s := <-status:
				t.Fatalf("status %d: %s", s, log)
			}
			base := regexp.MustCompile(`http://127\S+`).FindString(out.String())
			q, err := http.NewRequest(http.MethodPost, base+"sign-in", strings.NewReader(url.Values{"login": {"nurse"}, "password": {"not this one at all"}}.Encode()))
			if err != nil {
				t.Fatal(err)
			}
			q.Header.Set("Content-Type", "application/x-www-form-urlencoded")
			q.Header.Set("Sec-Fetch-Site", "same-origin")
			resp, err := http.DefaultClient.Do(q)
			if err != nil {
				t.Fatal(err)
			}
			resp.Body.Close()
			stop()
			if s := <-status; s != exitOK {
				t.Fatalf("status %d: %s", s, log)
			}
			for _, want := range []string{"msg=started", "msg=stopped", "route=/sign-in status=401"} {
				if strings.Contains(log.String(), want) != told {
					t.Errorf("at %s the log has %q: %v\n%s", level, want, !told, log)
				}
			}
			if strings.Contains(log.String(), "Morel") {
				t.Errorf("the log names somebody: %s", log)
			}
		})
	}
}

// TestAddressThatCanBeOpened: an address that stands for all of this machine's is
// told by a name.
func TestAddressThatCanBeOpened(t *testing.T) {
	for addr, want := range map[string]string{"[::]:8470": "localhost:8470", "0.0.0.0:8470": "localhost:8470", "127.0.0.1:8470": "127.0.0.1:8470", "[::1]:8470": "[::1]:8470"} {
		a, err := net.ResolveTCPAddr("tcp", addr)
		if err != nil {
			t.Fatal(err)
		}
		if got := openable(a, "localhost"); got != want {
			t.Errorf("%s is told as %s, want %s", addr, got, want)
		}
	}
}
