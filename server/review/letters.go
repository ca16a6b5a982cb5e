package review

import (
	"net/http"

	"github.com/gin-gonic/gin"

	"wearround/server/door"
	"wearround/server/view"
	"wearround/store"
	"wearround/web"
	"wearround/web/form"
	"wearround/web/letter"
)

// LettersPage lists the texts that letters are made from, and the sheets.
func (s *Review) LettersPage(c *gin.Context) (web.Page, error) {
	list, err := s.Store.Templates(c.Request.Context())
	if err != nil {
		return nil, err
	}
	p := web.LettersPage{Layout: s.Layout(c)}
	seen := map[string]bool{}
	for _, t := range list { // the newest of a kind comes first
		if !seen[t.Kind] {
			seen[t.Kind] = true
			p.Templates = append(p.Templates, web.TemplateLine{Kind: letter.Kind(t.Kind), Version: t.Version, By: t.By.Name, At: t.At})
		}
	}
	return p, nil
}

// NewLetter asks which letter is to be written about a wear.
func (s *Review) NewLetter(c *gin.Context) (web.Page, error) { return s.newLetterPage(c, form.Form{}) }

func (s *Review) newLetterPage(c *gin.Context, f form.Form) (web.Page, error) {
	w, err := s.viewWear(c)
	if err != nil {
		return nil, err
	}
	p := web.NewLetterPage{Layout: s.Layout(c), Form: f, WearID: w.ID, Patient: view.Patient(w.Patient), Report: w.Report, Denied: map[letter.Kind]string{}}
	v, err := s.Store.Review(c.Request.Context(), w.ID)
	if err != nil {
		return nil, err
	}
	for _, kind := range letter.Kinds() {
		p.Denied[kind] = store.LetterDenied(string(kind), v.InForce())
	}
	if len(f.Errors) > 0 {
		return door.Again(p), nil
	}
	return p, nil
}

// OpenLetter writes a letter from the findings and opens it for its sender.
func (s *Review) OpenLetter(c *gin.Context) (web.Page, error) {
	id, err := door.PathID(c)
	if err != nil {
		return nil, err
	}
	l, wrong := form.ParseLetter(c.Request.PostForm, s.Zone, s.Now())
	var opened int64
	if len(wrong) == 0 {
		opened, err = s.WriteLetter(c, id, l)
		wrong = door.Said(err)
	}
	if len(wrong) > 0 {
		return s.newLetterPage(c, door.Form(c, wrong))
	}
	if err != nil {
		return nil, err
	}
	return door.GoTo(c, letterAddress(opened))
}

// Letter is a letter: open for its sender to read, or as it was sent.
func (s *Review) Letter(c *gin.Context) (web.Page, error) {
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
	from, err := s.Sender(c.Request.Context())
	if err != nil {
		return nil, err
	}
	return web.SentPage{
		Layout: s.Layout(c), ID: l.ID, Kind: letter.Kind(l.Kind), Patient: view.Patient(who), WearID: l.WearID, Text: l.Text,
		Protocol: l.Protocol, By: l.SentBy.Name, At: l.SentAt, How: string(l.How), Template: l.Template, Practice: from.Name,
	}, nil
}

var errDiscarded = &door.Problem{Status: http.StatusGone, Sentence: "This letter was thrown away before it was sent.", ToDo: "Write another from the page of the wear."}

// viewLetter gives the letter in the address and logs that it was looked at.
func (s *Review) viewLetter(c *gin.Context) (store.Letter, error) {
	id, err := door.PathID(c)
	if err != nil {
		return store.Letter{}, err
	}
	ctx := c.Request.Context()
	l, err := s.Store.Letter(ctx, id)
	if err != nil {
		return l, err
	}
	if err := s.Store.RecordView(ctx, door.Actor(c), "patient", l.PatientID); err != nil {
		return l, err
	}
	if !l.Discarded.IsZero() {
		return l, errDiscarded
	}
	return l, nil
}

// letterPage is an open letter with the given text.
func (s *Review) letterPage(c *gin.Context, l store.Letter, text string, wrong []form.FieldError) (web.Page, error) {
	who, err := s.Store.Patient(c.Request.Context(), l.PatientID)
	if err != nil {
		return nil, err
	}
	p := web.LetterPage{
		Layout: s.Layout(c), ID: l.ID, WearID: l.WearID, Patient: view.Patient(who), Kind: letter.Kind(l.Kind), Text: text,
	}
	if len(wrong) > 0 {
		p.Form = door.Form(c, wrong)
		return door.Again(p), nil
	}
	return p, nil
}

// PreviewLetter shows an open letter with another text, which is not kept.
func (s *Review) PreviewLetter(c *gin.Context) (web.Page, error) {
	l, err := s.viewLetter(c)
	if err != nil {
		return nil, err
	}
	text, wrong := form.ParseTemplate(c.Request.PostForm, letter.Kind(l.Kind))
	return s.letterPage(c, l, text, wrong)
}

// SendLetter keeps a letter as sent, once its sender says that they read it.
func (s *Review) SendLetter(c *gin.Context) (web.Page, error) {
	l, err := s.viewLetter(c)
	if err != nil {
		return nil, err
	}
	text, how, wrong := form.ParseSending(c.Request.PostForm, letter.Kind(l.Kind))
	if len(wrong) == 0 {
		err = s.Store.SendLetter(c.Request.Context(), door.Actor(c), l.ID, text, store.Means(how))
		wrong = door.Said(err)
	}
	if len(wrong) > 0 {
		return s.letterPage(c, l, text, wrong)
	}
	if err != nil {
		return nil, err
	}
	return door.GoTo(c, letterAddress(l.ID))
}

// DiscardLetter throws an open letter away.
func (s *Review) DiscardLetter(c *gin.Context) (web.Page, error) {
	l, err := s.viewLetter(c)
	if err != nil {
		return nil, err
	}
	if err := s.Store.DiscardLetter(c.Request.Context(), door.Actor(c), l.ID); err != nil {
		return nil, err
	}
	if l.WearID == 0 {
		return door.GoTo(c, door.PatientAddress(l.PatientID))
	}
	return door.GoTo(c, door.WearAddress(l.WearID))
}

func letterAddress(id int64) string { return "/letters/" + door.IDText(id) }

// kindOf reads the kind of letter in an address.
func kindOf(c *gin.Context) (letter.Kind, error) {
	k := letter.Kind(c.Param("kind"))
	if !k.Known() {
		return "", door.ErrNoPage
	}
	return k, nil
}

// Sheet is a sheet that goes to everyone, for paper.
func (s *Review) Sheet(c *gin.Context) (web.Page, error) {
	kind, err := kindOf(c)
	if err != nil || !kind.Sheet() {
		return nil, door.OrNoPage(err)
	}
	made, version, err := s.ComposeSheet(c.Request.Context(), kind)
	if err != nil {
		return nil, err
	}
	from, err := s.Sender(c.Request.Context())
	return web.SentPage{Layout: s.Layout(c), Kind: kind, Text: made.Text, At: s.Now(), Template: version, Practice: from.Name}, err
}

// TemplatePage is the text in force for one kind of letter.
func (s *Review) TemplatePage(c *gin.Context) (web.Page, error) {
	return s.showTemplate(c, nil, nil, map[string]string{"1": "The text is kept as a new version.", "2": "The text that ships holds again."}[c.Query("done")])
}

// showTemplate shows a text: the one in force, or the one given.
func (s *Review) showTemplate(c *gin.Context, text *string, wrong []form.FieldError, done string) (web.Page, error) {
	kind, err := kindOf(c)
	if err != nil {
		return nil, err
	}
	p := web.TemplatePage{Layout: s.Layout(c), Kind: kind, Done: done}
	if p.Text, p.Version, err = s.Template(c.Request.Context(), kind); err != nil {
		return nil, err
	}
	if text != nil {
		p.Text = *text
	}
	if len(wrong) > 0 {
		p.Form = door.Form(c, wrong)
		return door.Again(p), nil
	}
	return p, nil
}

// PreviewTemplate shows a text filled in for an invented patient, and keeps
// nothing.
func (s *Review) PreviewTemplate(c *gin.Context) (web.Page, error) {
	kind, err := kindOf(c)
	if err != nil {
		return nil, err
	}
	text, wrong := form.ParseTemplate(c.Request.PostForm, kind)
	return s.showTemplate(c, &text, wrong, "")
}

// SaveTemplate keeps the practice's own text as its next version.
func (s *Review) SaveTemplate(c *gin.Context) (web.Page, error) {
	kind, err := kindOf(c)
	if err != nil {
		return nil, err
	}
	text, wrong := form.ParseTemplate(c.Request.PostForm, kind)
	if len(wrong) == 0 {
		_, err = s.Store.AddTemplate(c.Request.Context(), door.Actor(c), string(kind), text)
		wrong = door.Said(err)
	}
	if len(wrong) > 0 {
		return s.showTemplate(c, &text, wrong, "")
	}
	if err != nil {
		return nil, err
	}
	return door.GoTo(c, "/letters/templates/"+string(kind)+"?done=1")
}

// ShipTemplate goes back to the text that ships, as the next version.
func (s *Review) ShipTemplate(c *gin.Context) (web.Page, error) {
	kind, err := kindOf(c)
	if err != nil {
		return nil, err
	}
	if _, err := s.Store.AddTemplate(c.Request.Context(), door.Actor(c), string(kind), letter.Shipped(kind)); err != nil {
		return nil, err
	}
	return door.GoTo(c, "/letters/templates/"+string(kind)+"?done=2")
}
