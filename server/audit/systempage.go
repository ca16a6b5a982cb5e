package audit

import (
	"encoding/hex"
	"runtime/debug"
	"slices"
	"strings"

	"github.com/gin-gonic/gin"

	"wearround/web"
	"wearround/worker/wear"
)

// notesShown is how many notes of the log the page shows.
const notesShown = 5

// SystemPage says whether the program does its work. What cannot be found out
// is said to be not known and goes to the log; it does not hide the rest.
func (s *Audit) SystemPage(c *gin.Context) (web.Page, error) {
	ctx, now := c.Request.Context(), s.Now()
	p := web.SystemPage{Layout: s.Layout(c), Folder: s.Drop, Backups: s.Backups, Engine: wear.EngineVersion, Build: build()}
	beat, err := s.Store.LastBeat(ctx)
	if err != nil {
		return nil, err
	}
	n, err := s.Store.Counts(ctx)
	if err != nil {
		return nil, err
	}
	daily, err := s.Store.Daily(ctx, now)
	if err != nil {
		return nil, err
	}
	head, err := s.Store.LogHead(ctx)
	if err != nil {
		return nil, err
	}
	p.Looks, p.Stale, p.Lines, p.Chain = beat.Looked, daily.Stale, head.Seq, chain(daily.Chain)
	p.Sizes = []web.Size{
		{What: "Patients", N: int64(n.Patients)}, {What: "Wears", N: int64(n.Wears)}, {What: "Readings", N: n.Readings}, {What: "Files filed", N: int64(n.FiledFiles)},
	}
	if p.Jobs, err = s.jobs(c); err != nil {
		return nil, err
	}
	if s.Installation != nil {
		p.Checks = s.Installation(ctx)
	}
	disk, err := s.Store.Disk()
	if err != nil {
		s.Log.Error("size of the database unknown", "err", err)
		disk.Database, disk.Free = -1, -1
	}
	p.Database, p.Free = disk.Database, disk.Free
	notes, err := s.Anchors()
	if err != nil {
		s.Log.Error("notes of the log unknown", "err", err)
		p.NotesBad = true
	}
	for _, a := range slices.Backward(notes[max(0, len(notes)-notesShown):]) {
		p.Notes = append(p.Notes, web.Note{Seq: a.Seq, Seal: hex.EncodeToString(a.MAC[:6]), At: a.At})
	}
	return p, nil
}

// jobs are the scheduled jobs with their last and next runs, in the order of
// the next.
func (s *Audit) jobs(c *gin.Context) ([]web.Job, error) {
	ran, err := s.Store.Jobs(c.Request.Context())
	if err != nil {
		return nil, err
	}
	next, err := s.NextRuns(c.Request.Context())
	if err != nil {
		return nil, err
	}
	var out []web.Job
	for _, j := range ran {
		out = append(out, web.Job{Name: j.Name, Last: j.At, Took: j.Took, Fault: j.Err, Good: j.GoodAt, Next: next[j.Name]})
		delete(next, j.Name)
	}
	for name, at := range next {
		out = append(out, web.Job{Name: name, Next: at})
	}
	slices.SortFunc(out, func(a, b web.Job) int {
		if n := a.Next.Compare(b.Next); n != 0 {
			return n
		}
		return strings.Compare(a.Name, b.Name)
	})
	return out, nil
}

// build says which program this is, as far as it knows.
func build() string {
	info, ok := debug.ReadBuildInfo()
	if !ok {
		return ""
	}
	out := info.Main.Version
	for _, s := range info.Settings {
		if s.Key == "vcs.revision" {
			out += ", commit " + s.Value[:min(12, len(s.Value))]
		}
	}
	return out + ", " + info.GoVersion
}
