package web

import (
	"cmp"
	"time"

	"wearround/web/form"
	"wearround/worker/wear"
)

// SystemPage says whether the program does its work: the folder, the jobs, the
// database, the log's seals. It holds no patient's name and no reading.
type SystemPage struct {
	Layout
	Folder   string // the watched one
	Looks    int64  // since the service started
	Stale    int    // wears whose reports are being made anew
	Checks   []Check
	Jobs     []Job
	Database int64 // bytes, or -1 where it cannot be measured
	Free     int64 // bytes left on its disk, or -1 where that is not known
	Sizes    []Size
	Lines    int64 // of the log, by its newest line
	Chain    Chain
	Notes    []Note // newest first
	NotesBad bool   // the notes of the log cannot be read
	Engine   string // version of the arithmetic
	Build    string // of the program
	Backups  string // the folder that the practice is copied to, or ""
}

// BackupWords say where the practice is copied to and how old the newest good
// copy is.
func (l Layout) BackupWords(place string, last time.Time) string {
	switch {
	case place == "":
		return "none is made by this program: it can be started with the flag “backup” and a folder"
	case last.IsZero():
		return "no good copy so far"
	}
	return "the newest good copy is of " + l.When(last) + ", " + length(max(0, int(l.Now.Sub(last)/time.Minute))) + " ago"
}

// LastBackup is when the newest good copy was begun.
func (p SystemPage) LastBackup() time.Time {
	for _, j := range p.Jobs {
		if j.Name == "backup" {
			return j.Good
		}
	}
	return time.Time{}
}

// Check is one thing of an installation that was looked at: by doctor and on the
// page System alike.
type Check struct {
	What string // a word
	Good bool
	Said string // what is right, or what is to be done
}

// Term is what it is, as a heading.
func (c Check) Term() string { return form.SentenceCase(c.What) }

// Job is one scheduled job.
type Job struct {
	Name  string
	Last  time.Time // when it last began; zero: never
	Took  time.Duration
	Fault string    // why the last run failed, or ""
	Good  time.Time // when the last run that did not fail began; zero: never
	Next  time.Time // when it is to run next; zero where that is not known
}

// Size is how many there are of something.
type Size struct {
	What string
	N    int64
}

// Note is a line of the log as it was noted in a second place.
type Note struct {
	Seq  int64
	Seal string // the first digits
	At   time.Time
}

func (SystemPage) view() (set, block string) { return "system", "page" }

// jobWords say what a scheduled job does.
var jobWords = map[string]string{
	"backup":        "Copy the practice to the place for backups",
	"drill":         "Prove that the newest backup brings the practice back",
	"verify_data":   "Hold everything that is kept against its seal",
	"archive_check": "See that the original of every file is in the archive",
	"tidy_database": "Tidy the database",
	"note_log":      "Note the newest line of the log in a second place",
	"verify_log":    "See that the log holds together",
}

// Words says what the job does.
func (j Job) Words() string { return cmp.Or(jobWords[j.Name], form.SentenceCase(plain(j.Name))) }

// jobGrace is how long after its time a run counts as late: jobs are looked for
// every minute, and one may take a while.
const jobGrace = 15 * time.Minute

// LastWords says how the job's last run went.
func (p SystemPage) LastWords(j Job) string {
	switch {
	case j.Last.IsZero():
		return "has not run yet"
	case j.Fault != "" && j.Good.IsZero():
		return p.When(j.Last) + ", failed; it never ran well"
	case j.Fault != "":
		return p.When(j.Last) + ", failed; it last ran well " + p.When(j.Good)
	}
	return p.When(j.Last) + ", took " + seconds(j.Took)
}

// NextWords says when the job runs next.
func (p SystemPage) NextWords(j Job) string {
	switch {
	case j.Next.IsZero():
		return "not known"
	case p.Now.Sub(j.Next) > jobGrace:
		return "was due " + p.When(j.Next)
	case !j.Next.After(p.Now):
		return "within a minute"
	}
	return p.When(j.Next)
}

// Trouble are the sentences about what needs somebody, the gravest first. Of
// what the banner says already nothing is said again.
func (p SystemPage) Trouble() []string {
	var out []string
	if p.NotesBad {
		out = append(out, "The second place where the log is noted cannot be read. Ask whoever looks after the computer to see to it: without it a log that was rewritten as a whole is not found out.")
	}
	if p.Free >= 0 && !EnoughRoom(p.Free, p.Database) {
		out = append(out, "The disk is nearly full: "+size(p.Free)+" are left. New files cannot be kept once it is full. Make room.")
	}
	for _, j := range p.Jobs {
		switch {
		case j.Fault != "":
			out = append(out, "A scheduled job failed: “"+j.Words()+"”. "+form.Sentence(j.Fault))
		case !j.Next.IsZero() && p.Now.Sub(j.Next) > jobGrace:
			out = append(out, "A scheduled job has not run at its time: “"+j.Words()+"”. Ask whoever looks after the computer to restart the service.")
		}
	}
	return out
}

// leastFree is the room on the disk, in bytes, below which it is said. Common
// practice.
const leastFree = 1_000_000_000

// EnoughRoom reports whether a disk with so many bytes free has room to work in
// beside a database of so many: a copy of it is made before each change of its
// schema, and for each backup.
func EnoughRoom(free, database int64) bool { return free >= max(leastFree, 2*database) }

// Sentence says how the whole stands.
func (p SystemPage) Sentence() string {
	switch {
	case p.Banner() != "":
		return "Not all is well: see the bar above."
	case p.System.LastLook.IsZero():
		return "The folder has not been looked at yet."
	case len(p.Trouble()) > 0:
		return "The folder is being looked at, and something needs somebody."
	case p.System.Waiting > 0:
		return "The service runs: " + count(p.System.Waiting, "file") + " being read."
	case p.System.Held > 0:
		return "The service runs, and no file waits to be read; " + count(p.System.Held, "file") + " still to be answered."
	}
	return "The service runs, and no file waits."
}

// seconds writes a short length: "under 0.1 s", "0.4 s", "12 s".
func seconds(d time.Duration) string {
	switch {
	case d < 100*time.Millisecond:
		return "under 0.1 s"
	case d < 10*time.Second:
		return wear.FormatHalfUp(d.Seconds(), 1) + " s"
	}
	return number(int(d.Seconds())) + " s"
}
