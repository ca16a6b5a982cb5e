package act

import (
	"cmp"
	"context"
	"errors"
	"net/http"
	"strings"

	"github.com/gin-gonic/gin"

	"wearround/server/door"
	"wearround/store"
	"wearround/web/form"
	"wearround/web/letter"
)

// Template is the text in force for a kind of letter, and its version; 0 is the
// one that ships.
func (s *Acts) Template(ctx context.Context, kind letter.Kind) (text string, version int, err error) {
	t, own, err := s.Store.Template(ctx, string(kind))
	if err != nil {
		return "", 0, err
	}
	if !own {
		return letter.Shipped(kind), 0, nil
	}
	return t.Text, t.Version, nil
}

// Sender is the practice, who writes: as set in the browser, under what was
// given at the start.
func (s *Acts) Sender(ctx context.Context) (letter.Practice, error) {
	p, err := s.Store.Practice(ctx)
	return letter.Practice{
		Name: cmp.Or(s.Practice, p.Name), Address: p.Address, Phone: cmp.Or(s.Telephone, p.Telephone),
		Emergency: cmp.Or(s.Emergency, p.Emergency, "000"), AlarmLow: p.AlarmLow, AlarmHigh: p.AlarmHigh,
	}, err
}

// ComposeSheet writes a sheet that goes to everyone, and gives the version of
// its text.
func (s *Acts) ComposeSheet(ctx context.Context, kind letter.Kind) (letter.Letter, int, error) {
	text, version, err := s.Template(ctx, kind)
	if err != nil {
		return letter.Letter{}, 0, err
	}
	from, err := s.Sender(ctx)
	if err != nil {
		return letter.Letter{}, 0, err
	}
	made, err := letter.ComposeFrom(kind, text, letter.Facts{Practice: from, Today: s.Today(), Zone: s.Zone})
	if p, ok := errors.AsType[*letter.Problem](err); ok {
		return made, 0, &door.Problem{Status: http.StatusConflict, Sentence: p.Text, ToDo: "Ask a lead of the practice to put it right, then open the sheet again."}
	}
	return made, version, err
}

// WriteLetter composes a letter and saves it as it is shown to its sender. What
// the findings do not allow, or what is not known, is said in words.
func (s *Acts) WriteLetter(c *gin.Context, wearID int64, l form.Letter) (int64, error) {
	ctx := c.Request.Context()
	w, err := s.Store.Wear(ctx, wearID)
	if err != nil {
		return 0, err
	}
	n, err := s.Compose(c, &w, l)
	if err != nil {
		return 0, err
	}
	return s.Store.OpenLetter(ctx, door.Actor(c), n)
}

// Compose writes a letter about a wear and keeps nothing. What the findings do
// not allow, or what is not known, is said in words.
func (s *Acts) Compose(c *gin.Context, w *store.Wear, l form.Letter) (n store.NewLetter, err error) {
	text, version, err := s.Template(c.Request.Context(), l.Kind)
	if err != nil {
		return n, err
	}
	own, err := store.Location(w.Zone, s.Zone)
	if err != nil {
		return n, err
	}
	from, err := s.Sender(c.Request.Context())
	if err != nil {
		return n, err
	}
	made, err := letter.ComposeFrom(l.Kind, text, letter.Facts{
		Practice: from, Patient: letter.Patient{Name: w.Patient.Name, BirthDate: w.Patient.BirthDate},
		Sender: door.VisitorOf(c).User.Name, To: l.To, Today: s.Today(), By: l.By, Tests: l.Tests, Serial: l.Serial, Fault: l.Fault,
		Report: w.Report, Zone: own,
	})
	if p, ok := errors.AsType[*letter.Problem](err); ok {
		return n, door.Invalid(p.Text)
	}
	return store.NewLetter{
		PatientID: w.Patient.ID, WearID: w.ID, Kind: string(l.Kind), Template: version, Protocol: w.Report.Protocol, Text: made.Text, Seen: w.Evidence, Named: w.Patient.Named(),
	}, err
}

// CheckText refuses what a letter or a template may not say.
func CheckText(problems []string) error {
	if len(problems) == 0 {
		return nil
	}
	return door.InvalidField("text", strings.Join(problems, " "))
}
