package server

import (
	"net/http"

	"github.com/gin-gonic/gin"
	"github.com/prometheus/client_golang/prometheus/promhttp"

	"wearround/server/door"
	"wearround/server/signin"
	"wearround/web"
)

// routes is the whole map of the server: nothing is answered that is not in
// this table or in [operations].
func (s *Server) routes() []door.Route {
	get := func(path string, who door.Access, h door.Handler) door.Route {
		return door.Route{Method: http.MethodGet, Path: path, Who: who, Handle: s.Page(h)}
	}
	post := func(path string, who door.Access, h door.Handler) door.Route {
		return door.Route{Method: http.MethodPost, Path: path, Who: who, Handle: s.Page(h)}
	}
	table := []door.Route{
		// The way in and out.
		get(door.SignInPath, door.Anyone, s.signin.SignInPage),
		post(door.SignInPath, door.Anyone, s.signin.SignIn),
		get(signin.SecondPath, door.Anyone, s.signin.SecondPage),
		post(signin.SecondPath, door.Anyone, s.signin.Second),
		get(signin.FactorPath, door.Anyone, s.signin.NewFactorPage),
		post(signin.FactorPath, door.Anyone, s.signin.TakeFactor),
		get("/set-up/:token", door.Anyone, s.signin.SetUpPage),
		post("/set-up/:token", door.Anyone, s.signin.SetUp),
		get("/welcome/:id/:secret", door.Anyone, s.signin.WelcomePage),
		post("/welcome/:id/:secret", door.Anyone, s.signin.Welcome),
		post("/sign-out", door.Member, s.signin.SignOut),
		post("/session/extend", door.Member, s.signin.Extend),
		{Method: http.MethodGet, Path: door.DraftsPath, Who: door.Member, Handle: s.Draft},
		{Method: http.MethodPost, Path: door.DraftsPath, Who: door.Member, Handle: s.SaveDraft},

		// One's own sign-in, and other people's.
		get("/account", door.Member, s.signin.Account),
		post("/account/password", door.Member, s.signin.ChangePassword),
		post("/account/factor", door.Member, s.signin.OfferFactor),
		post("/account/factor/confirm", door.Member, s.signin.ChangeFactor),
		post("/account/codes", door.Member, s.signin.NewRecovery),
		post("/account/sessions/revoke", door.Member, s.signin.RevokeOthers),
		post("/account/sessions/:id/revoke", door.Member, s.signin.RevokeSession),
		get("/settings", door.Staff, s.settings.Page),
		post("/settings", door.Leads, s.settings.Take),
		get("/people", door.Leads, s.signin.People),
		post("/people", door.Leads, s.signin.AddPerson),
		post("/people/:id/roles", door.Leads, s.signin.ChangeRoles),
		post("/people/:id/disable", door.Leads, s.signin.Disable),
		post("/people/:id/enable", door.Leads, s.signin.Enable),
		post("/people/:id/reset-factor", door.Leads, s.signin.ResetFactor),
		post("/people/:id/link", door.Leads, s.signin.InviteAgain),
		get("/log", door.Reviews, s.audit.LogPage),
		get("/audit", door.Counters, s.audit.Audit),
		get("/audit.csv", door.Counters, s.audit.AuditList),
		post("/audit/keep", door.Counters, s.audit.Keep),
		get("/audit/kept/:id", door.Counters, s.audit.Kept),

		// The round and the work on a wear.
		get("/", door.Staff, s.review.Round),
		post("/", door.Staff, s.review.SearchRound),
		get("/round.csv", door.Staff, s.review.RoundList),
		post("/claims/next", door.Staff, s.review.ClaimNext),
		post("/filters", door.Staff, s.review.KeepFilter),
		post("/filters/:id/delete", door.Staff, s.review.ForgetFilter),
		get("/wears/:id", door.Staff, s.review.Wear),
		get("/wears/:id/export/:format", door.Staff, s.review.ExportWear),
		post("/wears/:id/claim", door.Staff, s.review.Claim),
		post("/wears/:id/renew", door.Staff, s.review.Renew),
		post("/wears/:id/release", door.Staff, s.review.Release),
		post("/wears/:id/hand-over", door.Staff, s.review.HandOver),
		post("/wears/:id/take-over", door.Staff, s.review.TakeOver),
		get("/wears/:id/words", door.Staff, s.review.WordsPage),
		post("/wears/:id/words", door.Staff, s.review.ReadWords),
		post("/wears/:id/red-flags", door.Staff, s.review.RedFlags),
		get("/wears/:id/call", door.Staff, s.review.CallPage),
		post("/wears/:id/call", door.Staff, s.review.Call),
		post("/wears/:id/attempt", door.Staff, s.review.Attempt),
		post("/wears/:id/overrule", door.Staff, s.review.Overrule),
		post("/wears/:id/fingerstick", door.Staff, s.review.Fingerstick),
		post("/wears/:id/results", door.Staff, s.review.WearResult),
		post("/wears/:id/note", door.Staff, s.review.Note),
		post("/wears/:id/zone", door.Staff, s.review.TakeZone),
		post("/wears/:id/take-back", door.Staff, s.review.TakeWearBack),
		post("/wears/:id/reopen", door.Staff, s.review.Reopen),
		post("/wears/:id/move", door.Staff, s.review.Move),
		get("/wears/:id/outcome", door.Staff, s.review.OutcomePage),
		post("/wears/:id/outcome", door.Staff, s.review.Outcome),
		post("/outcomes/:id/undo", door.Staff, s.review.UndoOutcome),

		// Letters.
		get("/wears/:id/letters", door.Staff, s.review.NewLetter),
		post("/wears/:id/letters", door.Staff, s.review.OpenLetter),
		get("/wears/:id/two-weeks", door.Staff, s.review.TwoWeeks),
		get("/letters", door.Staff, s.review.LettersPage),
		get("/letters/:id", door.Staff, s.review.Letter),
		post("/letters/:id/preview", door.Staff, s.review.PreviewLetter),
		post("/letters/:id/send", door.Staff, s.review.SendLetter),
		post("/letters/:id/discard", door.Staff, s.review.DiscardLetter),
		get("/letters/sheets/:kind", door.Staff, s.review.Sheet),
		get("/letters/templates/:kind", door.Staff, s.review.TemplatePage),
		post("/letters/templates/:kind/preview", door.Staff, s.review.PreviewTemplate),
		post("/letters/templates/:kind", door.Leads, s.review.SaveTemplate),
		post("/letters/templates/:kind/shipped", door.Leads, s.review.ShipTemplate),

		// The register.
		get("/patients", door.Staff, s.register.Register),
		post("/patients/search", door.Staff, s.register.SearchRegister),
		post("/patients", door.Staff, s.register.AddPatient),
		get("/patients/new", door.Staff, s.register.NewPatient),
		get("/patients/import", door.Staff, s.register.ImportPage),
		{Method: http.MethodPost, Path: "/patients/import", Who: door.Staff, Handle: s.Page(s.register.PreviewImport), Body: door.MaxListBody},
		{Method: http.MethodPost, Path: "/patients/import/confirm", Who: door.Staff, Handle: s.Page(s.register.ConfirmImport), Body: door.MaxListBody},
		get("/patients/:id", door.Staff, s.register.PatientPage),
		get("/patients/:id/export", door.Staff, s.register.ExportPatient),
		post("/patients/:id", door.Staff, s.register.ChangePatient),
		get("/patients/:id/edit", door.Staff, s.register.EditPatient),
		post("/patients/:id/results", door.Staff, s.register.PatientResult),
		post("/patients/:id/take-back", door.Staff, s.register.TakePatientBack),
		post("/patients/:id/note", door.Staff, s.register.PatientNote),
		post("/patients/:id/recalls", door.Staff, s.register.AddRecall),
		get("/patients/:id/merge", door.Staff, s.register.MergePage),
		post("/patients/:id/merge/preview", door.Staff, s.register.PreviewMerge),
		post("/patients/:id/merge", door.Staff, s.register.Merge),
		post("/merges/:id/undo", door.Staff, s.register.UndoMerge),

		// The routine sheet, and letters on their way.
		get("/sheet", door.Staff, s.review.SheetPage),
		post("/sheet", door.Staff, s.review.Sign),
		post("/sheet/:id/undo", door.Staff, s.review.UndoSheet),
		get("/outbox", door.Staff, s.review.Outbox),
		post("/outbox/print", door.Staff, s.review.PrintLetters),
		post("/outbox/posted", door.Staff, s.review.PostLetters),
		get("/outbox/run", door.Staff, s.review.PrintRun),

		// Sensors that are out.
		get("/out", door.Staff, s.handout.List),
		post("/out", door.Staff, s.handout.Take),
		get("/out/new", door.Staff, s.handout.Form),
		get("/out/:id/sheet", door.Staff, s.handout.Sheet),

		// What must come back.
		get("/recalls", door.Staff, s.review.Recalls),
		post("/recalls/:id/attempt", door.Staff, s.review.TryRecall),
		post("/recalls/:id/done", door.Staff, s.review.CloseRecall),
		post("/recalls/:id/move", door.Staff, s.review.MoveRecall),
		post("/recalls/:id/cancel", door.Staff, s.review.CancelRecall),
		post("/recalls/:id/results", door.Staff, s.review.RecallResult),

		// Files and how they are read.
		get("/files", door.Staff, s.files.Files),
		{Method: http.MethodPost, Path: "/files/upload", Who: door.Staff, Handle: s.Page(s.files.Upload), Body: door.MaxFileBody},
		post("/files/:id/answer", door.Staff, s.files.Answer),
		post("/files/:id/takeback", door.Staff, s.files.TakeBack),
		get("/files/names", door.Staff, s.files.Names),
		post("/files/names", door.Leads, s.files.SetNames),
		post("/files/names/try", door.Staff, s.files.TryNames),
		get("/recipes", door.Staff, s.files.Recipes),
		get("/recipes/:id", door.Staff, s.files.Recipe),
		post("/recipes/:id/kind", door.Staff, s.files.SetKind),
		post("/recipes/:id/withdraw", door.Staff, s.files.Withdraw),
		post("/recipes/:id/again", door.Staff, s.files.ReadAgain),

		// How it decides, what it looks like, whether it works, and help.
		get("/about", door.Member, s.audit.About),
		get("/about/look", door.Member, s.audit.Look),
		get("/protocol", door.Member, s.audit.ProtocolPage),
		get("/protocol.json", door.Member, s.audit.ProtocolFile),
		get("/protocol/draft", door.Keepers, s.audit.DraftPage),
		{Method: http.MethodPost, Path: "/protocol/draft", Who: door.Keepers, Handle: s.Page(s.audit.TakeDraft), Body: door.MaxListBody},
		{Method: http.MethodPost, Path: "/protocol/import", Who: door.Keepers, Handle: s.Page(s.audit.Import), Body: door.MaxListBody},
		get("/protocol/versions/:id", door.Member, s.audit.VersionPage),
		get("/protocol/versions/:id/file", door.Member, s.audit.VersionFile),
		get("/protocol/versions/:id/what-if", door.Keepers, s.audit.WhatIf),
		post("/protocol/versions/:id/sign", door.Signers, s.audit.Sign),
		get("/system", door.Keepers, s.audit.SystemPage),
		get("/help", door.Member, s.audit.Help),
		get("/help/tour", door.Staff, s.audit.Tour),

		{Method: http.MethodGet, Path: door.LivePath, Who: door.Member, Handle: s.Live},
		{Method: http.MethodGet, Path: door.OpenAPIPath, Who: door.Member, Handle: s.api.OpenAPI},

		// What is the same for everybody, and for the machine.
		{Method: http.MethodGet, Path: "/static/*name", Who: door.Anyone, Handle: gin.WrapH(web.Assets())},
		{Method: http.MethodGet, Path: door.HealthPath, Who: door.Anyone, Handle: s.Health},
		{Method: http.MethodGet, Path: door.ReadyPath, Who: door.Anyone, Handle: s.Ready},
		{Method: http.MethodGet, Path: "/metrics", Who: door.Anyone, Handle: s.ThisMachine(promhttp.HandlerFor(s.Registry, promhttp.HandlerOpts{Registry: s.Registry}))},
	}
	return append(table, s.api.Routes()...)
}

// mux makes what answers from the table.
func (s *Server) mux() http.Handler {
	e := gin.New()
	e.HandleMethodNotAllowed = true
	if err := e.SetTrustedProxies(nil); err != nil {
		panic("server: " + err.Error()) // cannot happen for an empty list
	}
	s.Use(e)
	nowhere := door.Route{Method: http.MethodGet}
	e.NoRoute(s.Admit(nowhere), s.Page(door.NotFound))
	e.NoMethod(s.Admit(nowhere), s.Page(door.NotAllowed))
	for _, r := range s.routes() {
		e.Handle(r.Method, r.Path, s.Admit(r), r.Handle)
		if r.Method == http.MethodGet { // the same without its body
			e.Handle(http.MethodHead, r.Path, s.Admit(r), r.Handle)
		}
	}
	return e
}
