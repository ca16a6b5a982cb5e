package server

import (
	"context"
	"errors"
	"net/http"
	"strings"

	"github.com/gin-gonic/gin"

	"wearround/store"
	"wearround/web"
	"wearround/web/letter"
)

// lettersPage lists the texts that letters are made from, and the sheets.
func (s *Server) lettersPage(c *gin.Context) (web.Page, error) {
	list, err := s.Store.Templates(c.Request.Context())
	if err != nil {
		return nil, err
	}
	p := web.LettersPage{Layout: s.layout(c)}
	seen := map[string]bool{}
	for _, t := range list { // the newest of a kind comes first
		if !seen[t.Kind] {
			seen[t.Kind] = true
			p.Templates = append(p.Templates, web.TemplateLine{Kind: letter.Kind(t.Kind), Version: t.Version, By: t.By.Name, At: t.At})
		}
	}
	return p, nil
}

// template is the text in force for a kind of letter, and its version; 0 is the
// one that ships.
func (s *Server) template(ctx context.Context, kind letter.Kind) (text string, version int, err error) {
	t, own, err := s.Store.Template(ctx, string(kind))
	if err != nil {
		return "", 0, err
	}
	if !own {
		return letter.Shipped(kind), 0, nil
	}
	return t.Text, t.Version, nil
}

// practice is who writes.
func (s *Server) practice() letter.Practice {
	return letter.Practice{Name: s.Practice, Phone: s.Telephone, Emergency: s.Emergency}
}

// newLetter asks which letter is to be written about a wear.
func (s *Server) newLetter(c *gin.Context) (web.Page, error) { return s.newLetterPage(c, web.Form{}) }

func (s *Server) newLetterPage(c *gin.Context, f web.Form) (web.Page, error) {
	w, err := s.viewWear(c)
	if err != nil {
		return nil, err
	}
	p := web.NewLetterPage{Layout: s.layout(c), Form: f, WearID: w.ID, Patient: patient(w.Patient), Report: w.Report}
	if len(f.Errors) > 0 {
		return again(p), nil
	}
	return p, nil
}

// openLetter writes a letter from the findings and opens it for its sender.
func (s *Server) openLetter(c *gin.Context) (web.Page, error) {
	id, err := pathID(c)
	if err != nil {
		return nil, err
	}
	l, wrong := web.ParseLetter(c.Request.PostForm, s.Zone, s.Now())
	var opened int64
	if len(wrong) == 0 {
		opened, err = s.writeLetter(c, id, l)
		wrong = said(err)
	}
	if len(wrong) > 0 {
		return s.newLetterPage(c, form(c, wrong))
	}
	if err != nil {
		return nil, err
	}
	return goTo(c, letterAddress(opened))
}

// writeLetter composes a letter and saves it as it is shown to its sender. What
// the findings do not allow, or what is not known, is said in words.
func (s *Server) writeLetter(c *gin.Context, wearID int64, l web.LetterForm) (int64, error) {
	ctx := c.Request.Context()
	w, err := s.Store.Wear(ctx, wearID)
	if err != nil {
		return 0, err
	}
	text, version, err := s.template(ctx, l.Kind)
	if err != nil {
		return 0, err
	}
	own, err := store.Location(w.Zone, s.Zone)
	if err != nil {
		return 0, err
	}
	made, err := letter.ComposeFrom(l.Kind, text, letter.Facts{
		Practice: s.practice(), Patient: letter.Patient{Name: w.Patient.Name, BirthDate: w.Patient.BirthDate},
		Sender: visitorOf(c).user.Name, To: l.To, Today: s.today(), By: l.By, Tests: l.Tests, Serial: l.Serial, Fault: l.Fault,
		Report: w.Report, Zone: own,
	})
	if p, ok := errors.AsType[*letter.Problem](err); ok {
		return 0, invalid(p.Text)
	}
	if err != nil {
		return 0, err
	}
	return s.Store.OpenLetter(ctx, actor(c), store.NewLetter{
		PatientID: w.Patient.ID, WearID: w.ID, Kind: string(l.Kind), Template: version, Protocol: w.Report.Protocol, Text: made.Text,
	})
}

// letter is a letter: open for its sender to read, or as it was sent.
func (s *Server) letter(c *gin.Context) (web.Page, error) {
	l, err := s.viewLetter(c)
	if err != nil {
		return nil, err
	}
	if l.SentAt.IsZero() {
		return s.letterPage(c, l, l.Text, nil)
	}
	who, err := s.Store.Patient(c.Request.Context(), l.PatientID)
	if err != nil {
		return nil, err
	}
	return web.SentPage{
		Layout: s.layout(c), ID: l.ID, Kind: letter.Kind(l.Kind), Patient: patient(who), WearID: l.WearID, Text: l.Text,
		Protocol: l.Protocol, By: l.SentBy.Name, At: l.SentAt, How: string(l.How), Template: l.Template, Practice: s.Practice,
	}, nil
}

var errDiscarded = &problem{status: http.StatusGone, sentence: "This letter was thrown away before it was sent.", toDo: "Write another from the page of the wear."}

// viewLetter gives the letter in the address and logs that it was looked at.
func (s *Server) viewLetter(c *gin.Context) (store.Letter, error) {
	id, err := pathID(c)
	if err != nil {
		return store.Letter{}, err
	}
	ctx := c.Request.Context()
	l, err := s.Store.Letter(ctx, id)
	if err != nil {
		return l, err
	}
	if err := s.Store.RecordView(ctx, actor(c), "patient", l.PatientID); err != nil {
		return l, err
	}
	if !l.Discarded.IsZero() {
		return l, errDiscarded
	}
	return l, nil
}

// letterPage is an open letter with the given text.
func (s *Server) letterPage(c *gin.Context, l store.Letter, text string, wrong []web.FieldError) (web.Page, error) {
	who, err := s.Store.Patient(c.Request.Context(), l.PatientID)
	if err != nil {
		return nil, err
	}
	p := web.LetterPage{
		Layout: s.layout(c), ID: l.ID, WearID: l.WearID, Patient: patient(who), Kind: letter.Kind(l.Kind), Text: text,
	}
	if len(wrong) > 0 {
		p.Form = form(c, wrong)
		return again(p), nil
	}
	return p, nil
}

// previewLetter shows an open letter with another text, which is not kept.
func (s *Server) previewLetter(c *gin.Context) (web.Page, error) {
	l, err := s.viewLetter(c)
	if err != nil {
		return nil, err
	}
	text, wrong := web.ParseTemplate(c.Request.PostForm, letter.Kind(l.Kind))
	return s.letterPage(c, l, text, wrong)
}

// sendLetter keeps a letter as sent, once its sender says that they read it.
func (s *Server) sendLetter(c *gin.Context) (web.Page, error) {
	l, err := s.viewLetter(c)
	if err != nil {
		return nil, err
	}
	text, how, wrong := web.ParseSending(c.Request.PostForm, letter.Kind(l.Kind))
	if len(wrong) == 0 {
		err = s.Store.SendLetter(c.Request.Context(), actor(c), l.ID, text, store.Means(how))
		wrong = said(err)
	}
	if len(wrong) > 0 {
		return s.letterPage(c, l, text, wrong)
	}
	if err != nil {
		return nil, err
	}
	return goTo(c, letterAddress(l.ID))
}

// discardLetter throws an open letter away.
func (s *Server) discardLetter(c *gin.Context) (web.Page, error) {
	l, err := s.viewLetter(c)
	if err != nil {
		return nil, err
	}
	if err := s.Store.DiscardLetter(c.Request.Context(), actor(c), l.ID); err != nil {
		return nil, err
	}
	if l.WearID == 0 {
		return goTo(c, patientAddress(l.PatientID))
	}
	return goTo(c, wearAddress(l.WearID))
}

func letterAddress(id int64) string { return "/letters/" + idText(id) }

// checkText refuses what a letter or a template may not say.
func checkText(problems []string) error {
	if len(problems) == 0 {
		return nil
	}
	return invalidField("text", strings.Join(problems, " "))
}

// kindOf reads the kind of letter in an address.
func kindOf(c *gin.Context) (letter.Kind, error) {
	k := letter.Kind(c.Param("kind"))
	if !k.Known() {
		return "", errNoPage
	}
	return k, nil
}

// sheet is a sheet that goes to everyone, for paper.
func (s *Server) sheet(c *gin.Context) (web.Page, error) {
	kind, err := kindOf(c)
	if err != nil || !kind.Sheet() {
		return nil, orNoPage(err)
	}
	text, version, err := s.template(c.Request.Context(), kind)
	if err != nil {
		return nil, err
	}
	made, err := letter.ComposeFrom(kind, text, letter.Facts{Practice: s.practice(), Today: s.today(), Zone: s.Zone})
	if p, ok := errors.AsType[*letter.Problem](err); ok {
		return nil, &problem{status: http.StatusConflict, sentence: p.Text, toDo: "Ask a lead of the practice to put it right, then open the sheet again."}
	}
	if err != nil {
		return nil, err
	}
	return web.SentPage{Layout: s.layout(c), Kind: kind, Text: made.Text, At: s.Now(), Template: version, Practice: s.Practice}, nil
}

// templatePage is the text in force for one kind of letter.
func (s *Server) templatePage(c *gin.Context) (web.Page, error) {
	return s.showTemplate(c, nil, nil, map[string]string{"1": "The text is kept as a new version.", "2": "The text that ships holds again."}[c.Query("done")])
}

// showTemplate shows a text: the one in force, or the one given.
func (s *Server) showTemplate(c *gin.Context, text *string, wrong []web.FieldError, done string) (web.Page, error) {
	kind, err := kindOf(c)
	if err != nil {
		return nil, err
	}
	p := web.TemplatePage{Layout: s.layout(c), Kind: kind, Done: done}
	if p.Text, p.Version, err = s.template(c.Request.Context(), kind); err != nil {
		return nil, err
	}
	if text != nil {
		p.Text = *text
	}
	if len(wrong) > 0 {
		p.Form = form(c, wrong)
		return again(p), nil
	}
	return p, nil
}

// previewTemplate shows a text filled in for an invented patient, and keeps
// nothing.
func (s *Server) previewTemplate(c *gin.Context) (web.Page, error) {
	kind, err := kindOf(c)
	if err != nil {
		return nil, err
	}
	text, wrong := web.ParseTemplate(c.Request.PostForm, kind)
	return s.showTemplate(c, &text, wrong, "")
}

// saveTemplate keeps the practice's own text as its next version.
func (s *Server) saveTemplate(c *gin.Context) (web.Page, error) {
	kind, err := kindOf(c)
	if err != nil {
		return nil, err
	}
	text, wrong := web.ParseTemplate(c.Request.PostForm, kind)
	if len(wrong) == 0 {
		_, err = s.Store.AddTemplate(c.Request.Context(), actor(c), string(kind), text)
		wrong = said(err)
	}
	if len(wrong) > 0 {
		return s.showTemplate(c, &text, wrong, "")
	}
	if err != nil {
		return nil, err
	}
	return goTo(c, "/letters/templates/"+string(kind)+"?done=1")
}

// shipTemplate goes back to the text that ships, as the next version.
func (s *Server) shipTemplate(c *gin.Context) (web.Page, error) {
	kind, err := kindOf(c)
	if err != nil {
		return nil, err
	}
	if _, err := s.Store.AddTemplate(c.Request.Context(), actor(c), string(kind), letter.Shipped(kind)); err != nil {
		return nil, err
	}
	return goTo(c, "/letters/templates/"+string(kind)+"?done=2")
}
