package api

import (
	"cmp"
	"encoding/base64"
	"time"

	"github.com/gin-gonic/gin"

	"wearround/server/door"
	"wearround/store"
	"wearround/worker/wear"
)

type apiFile struct {
	FileID    int64           `json:"file_id" doc:"0 where its bytes were never taken"`
	Path      string          `json:"path" doc:"under the watched folder"`
	SeenAt    time.Time       `json:"seen_at"`
	Fate      string          `json:"outcome" enum:"filed|held|refused|already"`
	Reason    string          `json:"reason"`
	ToDo      string          `json:"to_do"`
	Questions []wear.Question `json:"questions" doc:"open ones; each answer is the value of a choice, or a patient's code where a question asks whose the file is"`
	Pending   bool            `json:"pending" doc:"answered, and being read again"`
	WearIDs   []int64         `json:"wear_ids"`
}

type apiFiles struct {
	Files    []apiFile `json:"files"`
	Matching int       `json:"matching"`
	Total    int       `json:"total"`
}

type apiNameRule struct {
	Rule string `json:"rule" doc:"{code} once, where the patient's code stands, and * for anything else"`
}

type apiRecipe struct {
	ID          int64           `json:"id"`
	Layout      string          `json:"layout"`
	State       string          `json:"state" enum:"in_force|replaced|withdrawn"`
	Answers     []wear.Decision `json:"answers" doc:"what people decided"`
	SensorKind  string          `json:"sensor_kind"`
	MadeAt      time.Time       `json:"made_at"`
	WithdrawnAt time.Time       `json:"withdrawn_at,omitzero"`
	Reason      string          `json:"reason"`
	Files       int             `json:"files"`
	Wears       int             `json:"wears"`
}

type apiRecipes struct {
	Recipes []apiRecipe `json:"recipes"`
}

type apiCount struct {
	Files int `json:"files"`
}

func apiFileOf(r store.DropRow) apiFile {
	out := apiFile{
		FileID: r.FileID, Path: r.Path, SeenAt: r.SeenAt, Fate: string(r.Fate), Reason: r.Reason, ToDo: r.ToDo,
		Questions: []wear.Question{}, WearIDs: append([]int64{}, r.WearIDs...),
	}
	if r.Fate == store.Held {
		out.Pending = r.File.Pending
		for _, q := range r.File.Questions {
			q.Choices = append([]wear.Choice{}, q.Choices...) // never null
			out.Questions = append(out.Questions, q)
		}
	}
	return out
}

func apiRecipeOf(r store.Recipe) apiRecipe {
	return apiRecipe{
		r.ID, r.Layout, string(r.State), append([]wear.Decision{}, r.Answers...), r.SensorKind, r.MadeAt, r.WithdrawnAt, r.Reason, r.Files, r.Wears,
	}
}

type filesIn struct {
	Fate   string `query:"outcome" json:"-" enum:"filed|held|refused|already" doc:"left out: all"`
	Offset int    `query:"offset" json:"-"`
}

func apiListFiles(s *API, c *gin.Context, in filesIn) (apiFiles, error) {
	d, err := s.Store.Drops(c.Request.Context(), store.DropQuery{Fate: store.Fate(in.Fate), Offset: in.Offset, Limit: apiPageSize})
	return apiFiles{door.Each(d.Rows, apiFileOf), d.Matching, d.Total}, err
}

type fileIn struct {
	Name string `json:"name" doc:"of the file; the patient's code may stand in it"`
	Data string `json:"data" doc:"its bytes in base64, up to 1.5 MB; put larger ones into the watched folder"`
}

type apiSent struct {
	Path string `json:"path" doc:"under the watched folder; GET /files says what became of it"`
}

func apiSendFile(s *API, c *gin.Context, in fileIn) (apiSent, error) {
	data, err := base64.StdEncoding.DecodeString(in.Data)
	if err != nil {
		return apiSent{}, door.InvalidField("data", "Send the bytes of the file in base64.")
	}
	name, err := s.TakeFile(c, in.Name, data)
	return apiSent{name}, err
}

type answersIn struct {
	ID      int64             `path:"id" json:"-"`
	Answers map[string]string `json:"answers" doc:"the value of a choice by the code of its question; all are taken or none"`
}

func apiAnswerFile(s *API, c *gin.Context, in answersIn) (none, error) {
	if err := s.Store.Answer(c.Request.Context(), in.ID, in.Answers); err != nil {
		return none{}, err
	}
	s.Worker.Look()
	return none{}, nil
}

func apiGetNameRule(s *API, c *gin.Context, _ nothing) (apiNameRule, error) {
	rule, _, err := s.Store.Setting(c.Request.Context(), store.NameRule)
	return apiNameRule{cmp.Or(rule, s.NameRule)}, err
}

type nameRuleIn struct {
	Rule string `json:"rule" doc:"as it is read"`
}

func apiSetNameRule(s *API, c *gin.Context, in nameRuleIn) (apiNameRule, error) {
	if _, err := s.TryNameRule(in.Rule, nil); err != nil { // its words are for people
		return apiNameRule{}, door.InvalidField("rule", err.Error())
	}
	if err := s.Store.SetNameRule(c.Request.Context(), in.Rule); err != nil {
		return apiNameRule{}, err
	}
	s.Worker.Look()
	return apiNameRule(in), nil
}

func apiListRecipes(s *API, c *gin.Context, _ nothing) (apiRecipes, error) {
	rows, err := s.Store.Recipes(c.Request.Context())
	return apiRecipes{door.Each(rows, apiRecipeOf)}, err
}

type kindIn struct {
	ID   int64  `path:"id" json:"-"`
	Kind string `json:"kind" doc:"a code of up to 12 letters and digits, or empty"`
}

func apiSetSensorKind(s *API, c *gin.Context, in kindIn) (apiRecipe, error) {
	ctx := c.Request.Context()
	if err := s.Store.SetSensorKind(ctx, in.ID, in.Kind); err != nil {
		return apiRecipe{}, err
	}
	s.Worker.Look()
	r, err := s.Store.Recipe(ctx, in.ID)
	return apiRecipeOf(r), err
}

func apiWithdrawRecipe(s *API, c *gin.Context, in withReason) (none, error) {
	return none{}, s.Store.Withdraw(c.Request.Context(), in.ID, in.Reason)
}

func apiReadAgain(s *API, c *gin.Context, in byID) (apiCount, error) {
	n, err := s.Store.ReadAgain(c.Request.Context(), in.ID)
	if err == nil {
		s.Worker.Look()
	}
	return apiCount{n}, err
}
