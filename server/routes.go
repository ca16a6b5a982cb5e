package server

import (
	"net/http"
	"strings"

	"github.com/gin-gonic/gin"
	"github.com/prometheus/client_golang/prometheus/promhttp"

	"wearround/web"
)

const (
	livePath    = "/live"
	openAPIPath = apiBase + "/openapi.json"
)

// routes is the whole map of the server: nothing is answered that is not in
// this table or in [operations].
func (s *Server) routes() []route {
	get := func(path string, who access, h handler) route {
		return route{method: http.MethodGet, path: path, who: who, handle: s.page(h)}
	}
	post := func(path string, who access, h handler) route {
		return route{method: http.MethodPost, path: path, who: who, handle: s.page(h)}
	}
	table := []route{
		// The way in and out.
		get(signInPath, anyone, s.signInPage),
		post(signInPath, anyone, s.signIn),
		get(secondPath, anyone, s.secondPage),
		post(secondPath, anyone, s.second),
		get(factorPath, anyone, s.newFactorPage),
		post(factorPath, anyone, s.takeFactor),
		get("/set-up/:token", anyone, s.setUpPage),
		post("/set-up/:token", anyone, s.setUp),
		get("/welcome/:id/:secret", anyone, s.welcomePage),
		post("/welcome/:id/:secret", anyone, s.welcome),
		post("/sign-out", member, s.signOut),
		post("/session/extend", member, s.extend),

		// One's own sign-in, and other people's.
		get("/account", member, s.account),
		post("/account/password", member, s.changePassword),
		post("/account/factor", member, s.offerFactor),
		post("/account/factor/confirm", member, s.changeFactor),
		post("/account/codes", member, s.newRecovery),
		post("/account/sessions/revoke", member, s.revokeOthers),
		post("/account/sessions/:id/revoke", member, s.revokeSession),
		get("/people", leads, s.people),
		post("/people", leads, s.addPerson),
		post("/people/:id/roles", leads, s.changeRoles),
		post("/people/:id/disable", leads, s.disable),
		post("/people/:id/enable", leads, s.enable),
		post("/people/:id/reset-factor", leads, s.resetFactor),
		post("/people/:id/link", leads, s.inviteAgain),
		get("/log", reviews, s.log),
		get("/audit", counters, s.audit),
		get("/audit.csv", counters, s.auditList),

		// The round and the work on a wear.
		get("/", staff, s.round),
		post("/", staff, s.searchRound),
		post("/claims/next", staff, s.claimNext),
		post("/filters", staff, s.keepFilter),
		post("/filters/:id/delete", staff, s.forgetFilter),
		get("/wears/:id", staff, s.wear),
		post("/wears/:id/claim", staff, s.claim),
		post("/wears/:id/renew", staff, s.renew),
		post("/wears/:id/release", staff, s.release),
		post("/wears/:id/take-over", staff, s.takeOver),
		get("/wears/:id/call", staff, s.callPage),
		post("/wears/:id/call", staff, s.call),
		post("/wears/:id/attempt", staff, s.attempt),
		post("/wears/:id/overrule", staff, s.overrule),
		post("/wears/:id/fingerstick", staff, s.fingerstick),
		post("/wears/:id/results", staff, s.wearResult),
		post("/wears/:id/note", staff, s.note),
		post("/wears/:id/zone", staff, s.zone),
		post("/wears/:id/take-back", staff, s.takeWearBack),
		post("/wears/:id/reopen", staff, s.reopen),
		get("/wears/:id/outcome", staff, s.outcomePage),
		post("/wears/:id/outcome", staff, s.outcome),
		post("/outcomes/:id/undo", staff, s.undoOutcome),

		// Letters.
		get("/wears/:id/letters", staff, s.newLetter),
		post("/wears/:id/letters", staff, s.openLetter),
		get("/letters", staff, s.lettersPage),
		get("/letters/:id", staff, s.letter),
		post("/letters/:id/preview", staff, s.previewLetter),
		post("/letters/:id/send", staff, s.sendLetter),
		post("/letters/:id/discard", staff, s.discardLetter),
		get("/letters/sheets/:kind", staff, s.sheet),
		get("/letters/templates/:kind", staff, s.templatePage),
		post("/letters/templates/:kind/preview", staff, s.previewTemplate),
		post("/letters/templates/:kind", leads, s.saveTemplate),
		post("/letters/templates/:kind/shipped", leads, s.shipTemplate),

		// The register.
		get("/patients", staff, s.register),
		post("/patients/search", staff, s.searchRegister),
		post("/patients", staff, s.addPatient),
		get("/patients/new", staff, s.newPatient),
		get("/patients/import", staff, s.importPage),
		{method: http.MethodPost, path: "/patients/import", who: staff, handle: s.page(s.previewImport), body: maxListBody},
		{method: http.MethodPost, path: "/patients/import/confirm", who: staff, handle: s.page(s.confirmImport), body: maxListBody},
		get("/patients/:id", staff, s.patientPage),
		post("/patients/:id", staff, s.changePatient),
		get("/patients/:id/edit", staff, s.editPatient),
		post("/patients/:id/results", staff, s.patientResult),
		post("/patients/:id/take-back", staff, s.takePatientBack),
		post("/patients/:id/note", staff, s.patientNote),
		post("/patients/:id/recalls", staff, s.addRecall),
		get("/patients/:id/merge", staff, s.mergePage),
		post("/patients/:id/merge/preview", staff, s.previewMerge),
		post("/patients/:id/merge", staff, s.merge),
		post("/merges/:id/undo", staff, s.undoMerge),

		// What must come back.
		get("/recalls", staff, s.recalls),
		post("/recalls/:id/attempt", staff, s.tryRecall),
		post("/recalls/:id/done", staff, s.closeRecall),
		post("/recalls/:id/move", staff, s.moveRecall),
		post("/recalls/:id/cancel", staff, s.cancelRecall),
		post("/recalls/:id/results", staff, s.recallResult),

		// Files and how they are read.
		get("/files", staff, s.files),
		post("/files/:id/answer", staff, s.answer),
		get("/files/names", staff, s.names),
		post("/files/names", leads, s.setNames),
		post("/files/names/try", staff, s.tryNames),
		get("/recipes", staff, s.recipes),
		get("/recipes/:id", staff, s.recipe),
		post("/recipes/:id/kind", staff, s.setKind),
		post("/recipes/:id/withdraw", staff, s.withdraw),
		post("/recipes/:id/again", staff, s.readAgain),

		// How it decides, what it looks like, whether it works, and help.
		get("/about", member, s.about),
		get("/about/look", member, s.look),
		get("/protocol", member, s.protocol),
		get("/protocol.json", member, s.protocolFile),
		get("/system", keepers, s.systemPage),
		get("/help", member, s.help),
		get("/help/tour", staff, s.tour),

		{method: http.MethodGet, path: livePath, who: member, handle: s.live},
		{method: http.MethodGet, path: openAPIPath, who: member, handle: s.openAPI},

		// What is the same for everybody, and for the machine.
		{method: http.MethodGet, path: "/static/*name", who: anyone, handle: gin.WrapH(web.Assets())},
		{method: http.MethodGet, path: "/healthz", who: anyone, handle: s.health},
		{method: http.MethodGet, path: "/metrics", who: anyone, handle: s.thisMachine(promhttp.HandlerFor(s.Registry, promhttp.HandlerOpts{Registry: s.Registry}))},
	}
	for _, o := range operations {
		path := apiBase + strings.NewReplacer("{", ":", "}", "").Replace(o.path)
		table = append(table, route{method: o.method, path: path, who: o.who, scope: o.scope, handle: s.api(o), body: maxAPIBody})
	}
	return table
}

// mux makes what answers from the table.
func (s *Server) mux() http.Handler {
	e := gin.New()
	e.HandleMethodNotAllowed = true
	if err := e.SetTrustedProxies(nil); err != nil {
		panic("server: " + err.Error()) // cannot happen for an empty list
	}
	e.Use(s.observe, s.compress, s.recover, s.headers, s.ownHost, s.sameOrigin)
	nowhere := route{method: http.MethodGet}
	e.NoRoute(s.admit(nowhere), s.page(notFound))
	e.NoMethod(s.admit(nowhere), s.page(notFound))
	for _, r := range s.routes() {
		e.Handle(r.method, r.path, s.admit(r), r.handle)
	}
	return e
}
