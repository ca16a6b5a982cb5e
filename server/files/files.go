package files

import (
	"cmp"
	"fmt"
	"net/http"
	"regexp"
	"slices"
	"strings"

	"github.com/gin-gonic/gin"

	"wearround/server/door"
	"wearround/store"
	"wearround/web"
)

// filesPageSize is how many files a page of the list shows.
const filesPageSize = 50

// Files lists what came through the watched folder, newest first. With the
// header "X-Fragment: rows" it gives only the part that an open page swaps when
// the data changed.
func (s *Files) Files(c *gin.Context) (web.Page, error) {
	p, err := s.filesPage(c, 0, "", nil)
	if err == nil && c.GetHeader("X-Fragment") == "rows" {
		return web.FilesRows{FilesPage: p}, nil
	}
	return p, err
}

// filesPage is the list; an answer that was not taken is explained beside its file.
func (s *Files) filesPage(c *gin.Context, fileID int64, problem string, sure map[string]string) (web.FilesPage, error) {
	f := web.ParseFilesFilter(c.Request.URL.Query())
	if problem != "" {
		f.Fate = string(store.Held)
	}
	d, err := s.Store.Drops(c.Request.Context(), store.DropQuery{
		Fate: store.Fate(f.Fate), Offset: (max(f.Page, 1) - 1) * filesPageSize, Limit: filesPageSize,
	})
	if err != nil {
		return web.FilesPage{}, err
	}
	p := web.FilesPage{
		Layout: s.Layout(c), Filter: f, Matching: d.Matching, Total: d.Total,
		Counts: map[string]int{}, PageSize: filesPageSize,
	}
	p.Version = d.Version
	for o, n := range d.Counts {
		p.Counts[string(o)] = n
	}
	asked := map[int64]bool{} // the same bytes under two names are asked about once
	for _, row := range d.Rows {
		r := web.FileRow{
			DropID: row.ID, FileID: row.FileID, SeenAt: row.SeenAt, Path: row.Path, Size: row.Size,
			Fate: string(row.Fate), Reason: row.Reason, ToDo: row.ToDo, WearIDs: row.WearIDs,
		}
		if row.Fate == store.Filed {
			r.Brought = web.Brought{New: row.New, Same: row.Same, Conflicts: row.Conflicts}
		}
		if row.Messages {
			r.Message, r.Brought.Results = row.File.Account, row.Results
		}
		if row.File != nil && row.Fate != store.Already {
			r.Pending, r.InDoubt = row.File.Pending, row.File.InDoubt
			r.TakeBack = !row.File.AnsweredAt.IsZero() && p.Now.Sub(row.File.AnsweredAt) < store.TakeBackWithin && row.Fate != store.Held
		}
		switch {
		case row.Fate != store.Held:
		case asked[row.FileID]:
			r.Reason, r.ToDo = "The same bytes wait for an answer above, under another name.", "Answer there: it counts for both."
		default:
			asked[row.FileID] = true
			r.Questions = row.File.Questions
			if row.FileID == fileID {
				r.Problem, r.Sure = problem, sure
			}
		}
		p.Rows = append(p.Rows, r)
	}
	return p, nil
}

// Answer takes a person's answers to the questions of one held file, all of
// them or none, and leads on to the next held file. A patient code that is not
// on the register yet is added to it when the person says so.
func (s *Files) Answer(c *gin.Context) (web.Page, error) {
	id, err := door.PathID(c)
	if err != nil {
		return nil, err
	}
	answers, add, problem := answersOf(c)
	if problem != "" {
		return s.filesPage(c, id, problem, nil)
	}
	ctx := c.Request.Context()
	if sure, problem, err := s.unconfirmed(c); err != nil {
		return nil, err
	} else if problem != "" {
		return s.filesPage(c, id, problem, sure)
	}
	for _, code := range add {
		if _, err := s.Store.PatientByCode(ctx, code); store.CodeOf(err) == store.NotFound {
			err = s.Store.AddPatients(ctx, []store.Patient{{Code: code}})
			if err != nil {
				return nil, err
			}
		} else if err != nil {
			return nil, err
		}
	}
	next, err := s.nextHeld(c, id)
	if err != nil {
		return nil, err
	}
	if err := s.Store.Answer(ctx, id, answers); store.CodeOf(err) == store.Invalid {
		return s.filesPage(c, id, store.Words(err), nil)
	} else if err != nil {
		return nil, err
	}
	s.Worker.Look()
	c.Redirect(http.StatusSeeOther, "/files?outcome=held#"+next)
	return nil, nil
}

// answersOf reads the form of a held file. The nth "code" is that of a
// question; "value.n" is a choice, "other.n" a patient's code in its place, and
// "add.n" says to put that on the register. A question left open is left out.
func answersOf(c *gin.Context) (answers map[string]string, add []string, problem string) {
	answers = map[string]string{}
	for i, code := range c.PostFormArray("code") {
		field := func(name string) string { return strings.TrimSpace(c.PostForm(fmt.Sprintf("%s.%d", name, i))) }
		chosen, typed := field("value"), field("other")
		switch {
		case chosen != "" && typed != "" && chosen != typed:
			return nil, nil, "One patient is chosen and another is typed. Leave only one of the two."
		case field("add") == "1" && typed != "":
			if !patientCode.MatchString(typed) {
				return nil, nil, "A patient code is up to 40 letters, digits, points and hyphens. Write it as it stands in the practice's records."
			}
			add = append(add, typed)
		}
		if value := cmp.Or(chosen, typed); value != "" {
			answers[code] = value
		}
	}
	return answers, add, ""
}

// unconfirmed looks up the patients whose codes were typed and not yet
// confirmed, and says who they are: one wrong digit is another person.
func (s *Files) unconfirmed(c *gin.Context) (sure map[string]string, problem string, err error) {
	sure = map[string]string{}
	var who []string
	for i, code := range c.PostFormArray("code") {
		typed := strings.TrimSpace(c.PostForm(fmt.Sprintf("other.%d", i)))
		if typed == "" || !store.Named(code) {
			continue
		}
		p, err := s.Store.PatientByCode(c.Request.Context(), typed)
		if store.CodeOf(err) == store.NotFound {
			continue // said of the answer itself
		}
		if err != nil {
			return nil, "", err
		}
		sure[code] = p.Code
		if c.PostForm(fmt.Sprintf("sure.%d", i)) == p.Code {
			continue
		}
		who = append(who, door.Known(p))
	}
	if len(who) == 0 {
		return nil, "", nil
	}
	return sure, strings.Join(who, " ") + " Is that the person? Give the answer again if so; correct the code if not.", nil
}

// TakeBack forgets the answers about a file, and has it read again.
func (s *Files) TakeBack(c *gin.Context) (web.Page, error) {
	id, err := door.PathID(c)
	if err != nil {
		return nil, err
	}
	if err := s.Store.TakeBackAnswers(c.Request.Context(), id); err != nil {
		return nil, err
	}
	s.Worker.Look()
	c.Redirect(http.StatusSeeOther, "/files?outcome=held#"+web.AskID(id))
	return nil, nil
}

var patientCode = regexp.MustCompile(`^[\pL\pN][\pL\pN.-]{0,39}$`)

// nextHeld is the spot on the Files page of the held file that follows
// another and still needs a person: where the keyboard goes on.
func (s *Files) nextHeld(c *gin.Context, id int64) (spot string, err error) {
	d, err := s.Store.Drops(c.Request.Context(), store.DropQuery{Fate: store.Held, Limit: filesPageSize})
	if err != nil {
		return "", err
	}
	at := slices.IndexFunc(d.Rows, func(r store.DropRow) bool { return r.FileID == id })
	after := append(slices.Clone(d.Rows[at+1:]), d.Rows[:max(at, 0)]...)
	for _, r := range after {
		if r.FileID != id && !r.File.Pending {
			return web.AskID(r.FileID), nil
		}
	}
	return "main", nil
}
