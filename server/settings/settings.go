// Package settings is what the practice says of itself, and its first day.
package settings

import (
	"cmp"

	"github.com/gin-gonic/gin"

	"wearround/server/act"
	"wearround/server/door"
	"wearround/store"
	"wearround/web"
	"wearround/web/form"
	"wearround/worker/wear"
)

// Settings shows what the practice says of itself, and takes it from a lead.
type Settings struct {
	*door.Door
	*act.Acts
}

// Page shows the settings, and what is still to be done before the practice runs.
func (s *Settings) Page(c *gin.Context) (web.Page, error) {
	p, err := s.page(c)
	if c.Query("saved") == "1" {
		p.Saved = true
	}
	return p, err
}

func (s *Settings) page(c *gin.Context) (web.SettingsPage, error) {
	ctx := c.Request.Context()
	p := web.SettingsPage{Layout: s.Layout(c), ZoneName: s.Zone.String(), Folder: s.Drop, Backups: s.Backups}
	set, err := s.Store.Practice(ctx)
	if err != nil {
		return p, err
	}
	p.Form = form.Form{Values: form.PracticeValues(form.Practice(set))}
	p.Fixed = map[string]string{"name": s.Config.Practice, "telephone": s.Telephone, "emergency": s.Emergency}
	rule, _, err := s.Store.Setting(ctx, store.NameRule)
	if err != nil {
		return p, err
	}
	p.NameRule = cmp.Or(rule, s.NameRule)
	users, err := s.Store.Users(ctx)
	if err != nil {
		return p, err
	}
	patients, err := s.Store.Patients(ctx)
	if err != nil {
		return p, err
	}
	counts, err := s.Store.Counts(ctx)
	if err != nil {
		return p, err
	}
	made, err := s.Sender(ctx)
	if err != nil {
		return p, err
	}
	jobs, err := s.Store.Jobs(ctx)
	if err != nil {
		return p, err
	}
	for _, j := range jobs {
		if j.Name == "backup" {
			p.LastBackup = j.GoodAt
		}
	}
	p.Steps = []web.FirstStep{
		{Words: "Say who the practice is, for its letters", To: "/settings", Done: made.Name != "" && made.Phone != ""},
		{Words: "Let the others in", To: "/people", Done: len(users) > 1},
		{Words: "Put the patients on the register", To: "/patients/import", Done: len(patients) > 0},
		{Words: "Hand out the first sensor, or send the first file in", To: "/out/new", Done: counts.Drops > 0},
		{Words: "Have a clinician sign the protocol", To: "/protocol", Done: s.Protocol().Status != wear.DefaultProtocol().Status},
		{Words: "Have backups made on another disk", To: "/system", Done: s.Backups != ""},
	}
	return p, nil
}

// Take saves the settings.
func (s *Settings) Take(c *gin.Context) (web.Page, error) {
	in, wrong := form.ParsePractice(c.Request.PostForm)
	if len(wrong) == 0 {
		err := s.Store.SetPractice(c.Request.Context(), door.Actor(c), store.Practice(in))
		if wrong = door.Said(err); wrong == nil && err != nil {
			return nil, err
		}
	}
	if len(wrong) > 0 {
		p, err := s.page(c)
		p.Form = door.Form(c, wrong)
		return door.Again(p), err
	}
	return door.GoTo(c, "/settings?saved=1")
}
