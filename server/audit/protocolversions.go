package audit

import (
	"cmp"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"net/http"
	"net/url"
	"strconv"
	"strings"
	"time"

	"github.com/gin-gonic/gin"

	"wearround/server/door"
	"wearround/store"
	"wearround/web"
	"wearround/web/form"
	"wearround/worker/wear"
	"wearround/worker/wear/protocolfile"
)

// version makes a kept version what pages show.
func (s *Audit) version(k *store.KeptProtocol) web.ProtocolVersion {
	return web.ProtocolVersion{
		ID: k.ID, Name: k.Protocol.Version, By: k.By.Name, At: k.At, SignedBy: k.SignedBy.Name, SignedAt: k.SignedAt, From: k.From,
		InForce: k.Signed() && k.Protocol.Version == s.Protocol().Version,
	}
}

// kept is the version that the address names.
func (s *Audit) kept(c *gin.Context) (store.KeptProtocol, error) {
	id, err := door.PathID(c)
	if err != nil {
		return store.KeptProtocol{}, err
	}
	return s.Store.KeptProtocol(c.Request.Context(), id)
}

// VersionPage shows one version and where it differs from another: from the one
// in force where none is named.
func (s *Audit) VersionPage(c *gin.Context) (web.Page, error) {
	k, err := s.kept(c)
	if err != nil {
		return nil, err
	}
	return s.versionPage(c, &k)
}

func (s *Audit) versionPage(c *gin.Context, k *store.KeptProtocol) (web.ProtocolVersionPage, error) {
	p := web.ProtocolVersionPage{Layout: s.Layout(c), ProtocolVersion: s.version(k)}
	list, err := s.Store.KeptProtocols(c.Request.Context())
	if err != nil {
		return p, err
	}
	other, chosen := s.Protocol(), c.Query("with")
	p.Others = []web.Choice{{Words: "the one in force", Current: chosen == ""}}
	for i := range list {
		if id := door.IDText(list[i].ID); list[i].ID != k.ID {
			p.Others = append(p.Others, web.Choice{Words: list[i].Protocol.Version, Value: id, Current: chosen == id})
			if chosen == id {
				other = list[i].Protocol
			}
		}
	}
	p.With = other.Version
	p.Differences = k.Protocol.Differences(other)
	return p, nil
}

// VersionFile gives a version as the file that the command and this page read.
func (s *Audit) VersionFile(c *gin.Context) (web.Page, error) {
	k, err := s.kept(c)
	if err != nil {
		return nil, err
	}
	return nil, sendProtocol(c, k.Protocol)
}

func sendProtocol(c *gin.Context, p *wear.Protocol) error {
	text, err := json.MarshalIndent(p, "", "  ")
	if err != nil {
		return fmt.Errorf("write the protocol: %w", err)
	}
	c.Header("Content-Disposition", `attachment; filename="protocol.json"`)
	c.Data(http.StatusOK, "application/json", append(text, '\n'))
	return nil
}

// DraftPage is where a draft is written, from the protocol in force or from the
// version that is named.
func (s *Audit) DraftPage(c *gin.Context) (web.Page, error) {
	from, _ := strconv.ParseInt(c.Query("from"), 10, 64)
	p, base, err := s.draftPage(c, from)
	if err != nil {
		return nil, err
	}
	p.Form = form.Form{Values: url.Values{}}
	if p.From > 0 { // a draft is changed under its name, if nobody signed it
		p.Values.Set("version", base.Version)
		p.Values.Set("proposed_by", base.ProposedBy)
	}
	return p, nil
}

// draftPage begins from the version with an id, or, with 0, from the one in force.
func (s *Audit) draftPage(c *gin.Context, from int64) (web.ProtocolDraftPage, *wear.Protocol, error) {
	base := s.Protocol()
	if from > 0 {
		k, err := s.Store.KeptProtocol(c.Request.Context(), from)
		if err != nil {
			return web.ProtocolDraftPage{}, nil, err
		}
		base = k.Protocol
	}
	return web.ProtocolDraftPage{Layout: s.Layout(c), From: from, Based: base.Version, Settings: settings(base)}, base, nil
}

// TakeDraft keeps a draft.
func (s *Audit) TakeDraft(c *gin.Context) (web.Page, error) {
	page, base, err := s.draftPage(c, door.FormID(c, "from"))
	if err != nil {
		return nil, err
	}
	p, wrong, err := typedProtocol(c.Request.PostForm, base)
	if err != nil {
		return nil, err
	}
	var id int64
	if wrong == nil {
		id, err = s.Store.DraftProtocol(c.Request.Context(), door.Actor(c), p)
		if wrong = door.Said(err); wrong == nil && err != nil {
			return nil, err
		}
	}
	if wrong != nil {
		page.Form = door.Form(c, wrong)
		return door.Again(page), nil
	}
	return door.GoTo(c, web.ProtocolVersion{ID: id}.Address())
}

// typedProtocol reads a draft as it was typed over a base.
func typedProtocol(v url.Values, base *wear.Protocol) (*wear.Protocol, []form.FieldError, error) {
	set := map[string]string{}
	for _, x := range base.Settings() {
		if _, typed := v[x.Name]; typed {
			set[x.Name] = v.Get(x.Name)
		}
	}
	p, faults, err := protocolfile.Change(base, set)
	if err != nil {
		return nil, nil, err
	}
	var wrong []form.FieldError
	for _, x := range base.Settings() {
		if text := faults[x.Name]; text != "" {
			wrong = append(wrong, form.FieldError{Field: x.Name, Text: x.Name + ": " + text})
		}
	}
	if wrong != nil {
		return nil, wrong, nil
	}
	p.Version, p.ProposedBy = strings.TrimSpace(v.Get("version")), strings.TrimSpace(v.Get("proposed_by"))
	p.Status = wear.DefaultProtocol().Status
	return p, faultsOf(p.Validate()), nil
}

// faultsOf are the sentences of [wear.Protocol.Validate], each at its setting.
func faultsOf(err error) []form.FieldError {
	var out []form.FieldError
	if many, ok := err.(interface{ Unwrap() []error }); ok {
		for _, e := range many.Unwrap() {
			name, _, _ := strings.Cut(strings.Fields(e.Error())[0], ":")
			out = append(out, form.FieldError{Field: name, Text: form.Sentence(e.Error())})
		}
	}
	return out
}

// Import keeps a protocol file as a draft.
func (s *Audit) Import(c *gin.Context) (web.Page, error) {
	again := func(text string) (web.Page, error) {
		p, err := s.protocolPage(c)
		p.Form = form.Form{Errors: []form.FieldError{{Field: "file", Text: text}}}
		return door.Again(p), err
	}
	head, err := c.FormFile("file")
	if err != nil {
		return again("Choose a protocol file.")
	}
	f, err := head.Open()
	if err != nil {
		return nil, err
	}
	text, err := io.ReadAll(f)
	if err = errors.Join(err, f.Close()); err != nil {
		return nil, err
	}
	p, err := protocolfile.Read(text)
	if err != nil {
		return again("The file cannot be used: " + err.Error() + ".")
	}
	p.Status = wear.DefaultProtocol().Status // signed is what a clinician signs here
	id, err := s.Store.DraftProtocol(c.Request.Context(), door.Actor(c), p)
	if wrong := door.Said(err); wrong != nil {
		return again(wrong[0].Text)
	}
	if err != nil {
		return nil, err
	}
	return door.GoTo(c, web.ProtocolVersion{ID: id}.Address())
}

// Sign signs a draft, with password and second factor.
func (s *Audit) Sign(c *gin.Context) (web.Page, error) {
	k, err := s.kept(c)
	if err != nil {
		return nil, err
	}
	from, err := time.ParseInLocation(time.DateOnly, c.PostForm("from"), s.Zone)
	var wrong []form.FieldError
	switch today := s.dayOf(s.Now().In(s.Zone).Format(time.DateOnly)); {
	case err != nil || from.Before(today):
		wrong = []form.FieldError{{Field: "from", Text: "Say from which day it holds: today or a later one."}}
	case k.Signed():
		wrong = []form.FieldError{{Text: "This version is signed already."}}
	default:
		wrong, err = s.ConfirmBoth(c)
		if err != nil {
			return nil, err
		}
	}
	if wrong == nil {
		made, _ := strconv.ParseInt(c.PostForm("made"), 10, 64)
		err := s.Store.SignProtocol(c.Request.Context(), door.Actor(c), k.ID, time.Unix(made, 0), from)
		if wrong = door.Said(err); wrong == nil && err != nil {
			return nil, err
		}
	}
	if wrong != nil {
		p, err := s.versionPage(c, &k)
		p.Form = door.Form(c, wrong)
		return door.Again(p), err
	}
	return door.GoTo(c, web.ProtocolVersion{ID: k.ID}.Address())
}

// versions are all that the practice keeps, and the signed one that would hold
// had the program not been started with another.
func (s *Audit) versions(c *gin.Context) (list []web.ProtocolVersion, waiting string, err error) {
	kept, err := s.Store.KeptProtocols(c.Request.Context())
	if err != nil {
		return nil, "", err
	}
	for i := range kept {
		list = append(list, s.version(&kept[i]))
	}
	due, err := s.Store.SignedProtocol(c.Request.Context(), s.Now())
	if due != nil && due.Protocol.Version != s.Protocol().Version {
		waiting = cmp.Or(due.Protocol.Version, "without a name")
	}
	return list, waiting, err
}
