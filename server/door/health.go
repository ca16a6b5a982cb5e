package door

import (
	"context"
	"net/http"
	"strings"
	"time"

	"github.com/gin-gonic/gin"

	"wearround/store"
)

// Paths that machines ask, under any name of the host.
const (
	HealthPath = "/healthz"
	ReadyPath  = "/readyz"
)

// Reason is why the practice cannot be wholly relied on at this moment.
type Reason struct {
	Code string `json:"code"`
	Text string `json:"text"` // for anybody: no number of a patient's thing
	full string // for whoever is signed in, or ""
}

// Words are what people who are signed in are told.
func (r Reason) Words() string {
	if r.full != "" {
		return r.full
	}
	return r.Text
}

// How long the newest good backup and drill may be back, and how much room the
// disk must have. The first two are proposals of the practice's security notes.
const (
	backupLate = 24 * time.Hour
	drillLate  = 100 * 24 * time.Hour
	leastRoom  = 100_000_000 // bytes; System asks for more before that
)

// Reasons finds out, at this moment, what stands against relying on the
// practice: the gravest first, none where all is well. They are the same for
// machines, on every page and on System.
func (s *Door) Reasons(ctx context.Context) []Reason {
	out := s.storeReasons(ctx)
	if sys, err := s.system(ctx); err == nil {
		switch {
		case sys.Stalled:
			out = append(out, Reason{Code: "worker", Text: "The watched folder is not being looked at."})
		case sys.FolderProblem != "":
			out = append(out, Reason{Code: "folder", Text: "The watched folder cannot be read.", full: sys.FolderProblem})
		case sys.FilesProblem != "":
			out = append(out, Reason{Code: "files", Text: "Some files do not reach the round.", full: sys.FilesProblem})
		}
	}
	return append(out, s.copyReasons(ctx)...)
}

// trouble are the reasons that neither the worker's state nor the daily line
// tells: pages say those in words of their own.
func (s *Door) trouble(ctx context.Context) string {
	var out []string
	for _, r := range append(s.storeReasons(ctx), s.copyReasons(ctx)...) {
		if r.Code != "log" { // the daily line says it
			out = append(out, r.Words())
		}
	}
	return strings.Join(out, " ")
}

// storeReasons are those of the database and its disk.
func (s *Door) storeReasons(ctx context.Context) (out []Reason) {
	add := func(code, text, full string) { out = append(out, Reason{code, text, full}) }
	if err := s.Store.Intact(); err != nil {
		add("database", "The database is not the one that was opened: nothing can be saved.", store.Words(err))
	}
	if err := s.Store.KeyKept(); err != nil {
		add("key", "The key of the log is not where it was: the program would not start again.", store.Words(err))
	}
	if _, err := s.Store.DataVersion(ctx); err != nil && ctx.Err() == nil {
		add("read", "The database cannot be read.", "")
	}
	if s.Store.Corrupt() {
		add("damage", "The stored data are damaged.", "The stored data are damaged: what cannot be read is not shown. Whoever looks after this program stops it and brings the practice back from a backup (wearround restore).")
	}
	if bad := s.Store.Damage(); len(bad) > 0 {
		list := make([]string, 0, 5)
		for _, t := range bad[:min(len(bad), 5)] {
			list = append(list, t.String())
		}
		add("damage", "Some of what is kept does not fit its seal.", "What is kept of "+strings.Join(list, ", ")+andMore(len(bad)-5)+
			" does not fit its seal and is not to be relied on. Whoever looks after this program brings it back from a backup (wearround restore).")
	}
	if s.Store.DataLost() {
		add("lost", "Something that was kept is missing.", "Something that was kept is missing, or is older than the log says. Whoever looks after this program compares with a backup (wearround drill).")
	}
	if fault := s.Store.WriteFault(); fault != "" {
		add("write", "Nothing can be saved at the moment.", fault)
	}
	if d, err := s.Store.Disk(); err == nil && d.Free >= 0 && d.Free < leastRoom {
		add("room", "The disk is nearly full.", "")
	}
	if k := s.Store.LogChecked(); k != nil && !k.OK() {
		add("log", "The log does not hold together.", "The log of who did what does not hold together: "+ChainWords(k)+" Tell the practice’s lead before anything else is done.")
	}
	return out
}

func andMore(n int) string {
	if n <= 0 {
		return ""
	}
	return " and " + IDText(int64(n)) + " more"
}

// copyReasons are those of the backups, where the practice makes them here.
func (s *Door) copyReasons(ctx context.Context) (out []Reason) {
	if s.Backups == "" {
		return nil
	}
	jobs, err := s.Store.Jobs(ctx)
	if err != nil {
		return nil // that the database cannot be read is a reason already
	}
	good := map[string]time.Time{}
	for _, j := range jobs {
		good[j.Name] = j.GoodAt
	}
	late := func(job string, after time.Duration) bool {
		at := good[job]
		if at.IsZero() || at.After(s.Now()) { // none yet, or by a clock that was ahead
			at = s.started
		}
		return s.Now().Sub(at) > after
	}
	if late("backup", backupLate) {
		out = append(out, Reason{Code: "backup", Text: "There has been no good backup for more than a day. Look at the folder for backups; System says why."})
	}
	if late("drill", drillLate) {
		out = append(out, Reason{Code: "drill", Text: "No backup has been proved to bring the practice back for more than 100 days. Run wearround drill; System says why."})
	}
	return out
}

// Health says that the program is alive, and what stands against relying on it.
func (s *Door) Health(c *gin.Context) {
	text := "ok\n"
	if reasons := s.Reasons(c.Request.Context()); len(reasons) > 0 {
		text = "alive, not ready\n"
		for _, r := range reasons {
			text += r.Code + ": " + r.Text + "\n"
		}
	}
	c.String(http.StatusOK, text)
}

// Ready says whether the practice can be relied on, and why not.
func (s *Door) Ready(c *gin.Context) {
	reasons := s.Reasons(c.Request.Context())
	status := http.StatusOK
	if len(reasons) > 0 {
		status = http.StatusServiceUnavailable
	}
	c.JSON(status, gin.H{"ready": len(reasons) == 0, "reasons": append([]Reason{}, reasons...)})
}
