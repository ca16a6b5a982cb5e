package api

import (
	"net/http"

	"wearround/server/door"
	"wearround/store"
)

// The scopes of the API's operations.
const (
	reads  = door.Scope(store.ScopeRead)
	writes = door.Scope(store.ScopeWrite)
	drops  = door.Scope(store.ScopeDrop)
)

// operations is the whole API: the routes and the OpenAPI document are both
// made from it.
var operations = []operation{
	op("getDaily", http.MethodGet, "/daily", "What would be lost if nobody counted it", reads, door.Member, apiGetDaily),

	op("getRound", http.MethodGet, "/round", "The wears to follow up, in their order", reads, door.Staff, apiGetRound),
	op("searchRound", http.MethodPost, "/round/search", "The part of the round that matches a code or a name", reads, door.Staff, apiSearchRound),
	op("claimNext", http.MethodPost, "/round/next", "Claim the first wear that nobody has", writes, door.Staff, apiClaimNext),
	op("listWears", http.MethodGet, "/wears", "Every wear in the order in which they came, a page at a time", reads, door.Staff, apiListWears),
	op("getWear", http.MethodGet, "/wears/{id}", "One wear with its report and what was done", reads, door.Staff, apiGetWear),
	op("getTrace", http.MethodGet, "/wears/{id}/trace", "The readings and events of a wear, as recorded", reads, door.Staff, apiGetTrace),
	op("claimWear", http.MethodPut, "/wears/{id}/claim", "Claim a wear, or renew one's own claim", writes, door.Staff, apiClaimWear),
	op("releaseWear", http.MethodDelete, "/wears/{id}/claim", "Give a wear back", writes, door.Staff, apiReleaseWear),
	op("handOver", http.MethodPost, "/wears/{id}/hand-over", "Hand a wear over to people of another role", writes, door.Staff, apiHandOver).making("/wears/:id"),
	op("takeOver", http.MethodPost, "/wears/{id}/take-over", "Take a wear from whoever has it", writes, door.Staff, apiTakeOver),
	op("recordCall", http.MethodPost, "/wears/{id}/calls", "Save what a patient said on the telephone, and make the report anew", writes, door.Staff, apiRecordCall),
	op("withdrawAnswer", http.MethodPost, "/wears/{id}/calls/{call}/withdrawal", "Take back what a patient said about an episode on a call", writes, door.Staff, apiWithdrawAnswer),
	op("addEvents", http.MethodPost, "/wears/{id}/events", "Add events that the file does not have, and make the report anew", writes, door.Staff, apiAddEvents),
	op("withdrawEvent", http.MethodPost, "/wears/{id}/events/{event}/withdrawal", "Take back an event that a person added", writes, door.Staff, apiWithdrawEvent),
	op("addOverride", http.MethodPost, "/wears/{id}/overrides", "Believe or doubt a stretch of readings, and make the report anew", writes, door.Staff, apiAddOverride),
	op("withdrawOverride", http.MethodPost, "/wears/{id}/overrides/{override}/withdrawal", "Take back a word on a stretch of readings", writes, door.Staff, apiWithdrawOverride),
	op("setZone", http.MethodPut, "/wears/{id}/zone", "Say in which zone the clock of the wear's files was; they are read again by it", writes, door.Staff, apiSetZone),
	op("addNote", http.MethodPost, "/wears/{id}/notes", "Write a note about a wear", writes, door.Staff, apiAddNote).making("/wears/:id"),
	op("recordContact", http.MethodPost, "/wears/{id}/contacts", "Write down a try to reach the patient", writes, door.Staff, apiRecordContact).making("/wears/:id"),

	op("listOutcomes", http.MethodGet, "/outcomes", "The outcomes that there are, and what must follow each", reads, door.Staff, apiListOutcomes),
	op("recordOutcome", http.MethodPost, "/wears/{id}/outcomes", "Record how the work on a wear ended", writes, door.Staff, apiRecordOutcome).making("/wears/{wear_id}"),
	op("undoOutcome", http.MethodPost, "/outcomes/{id}/undo", "Take an outcome back, within 30 seconds", writes, door.Staff, apiUndoOutcome),
	op("correctOutcome", http.MethodPost, "/outcomes/{id}/correction", "Put an outcome right; both stay on record", writes, door.Staff, apiCorrectOutcome).making("/wears/{wear_id}"),
	op("reopenWear", http.MethodPost, "/wears/{id}/reopening", "Put a wear back on the round", writes, door.Staff, apiReopen),

	op("listPatients", http.MethodGet, "/patients", "The whole register", reads, door.Staff, apiListPatients),
	op("searchPatients", http.MethodPost, "/patients/search", "The part of the register that matches, up to 200", reads, door.Staff, apiSearchPatients),
	op("addPatient", http.MethodPost, "/patients", "Put a patient on the register", writes, door.Staff, apiAddPatient).making("/patients/{id}"),
	op("getPatient", http.MethodGet, "/patients/{id}", "All that is held of one patient", reads, door.Staff, apiGetPatient),
	op("editPatient", http.MethodPut, "/patients/{id}", "Change an entry of the register", writes, door.Staff, apiEditPatient),
	op("addPatientNote", http.MethodPost, "/patients/{id}/notes", "Write a note about a patient", writes, door.Staff, apiAddPatientNote).making("/patients/:id"),
	op("mergePatients", http.MethodPost, "/patients/{id}/merges", "Make another entry of the same person part of this one", writes, door.Staff, apiMergePatients).making("/patients/:id"),
	op("undoMerge", http.MethodPost, "/merges/{id}/undo", "Take a merge back", writes, door.Staff, apiUndoMerge),
	op("previewRegister", http.MethodPost, "/register/preview", "What importing a list would do", reads, door.Staff, apiPreviewRegister),
	op("importRegister", http.MethodPost, "/register", "Import a list; lines with a problem are left out", writes, door.Staff, apiImportRegister),

	op("addResult", http.MethodPost, "/patients/{id}/results", "Enter a laboratory result, and close the recall that it answers", writes, door.Staff, apiAddResult).making("/patients/:id"),
	op("withdrawResult", http.MethodPost, "/patients/{id}/results/{result}/withdrawal", "Take back a result that was entered wrongly", writes, door.Staff, apiWithdrawResult),

	op("listRecalls", http.MethodGet, "/recalls", "What must come back, the earliest due first", reads, door.Staff, apiListRecalls),
	op("addRecall", http.MethodPost, "/patients/{id}/recalls", "Set a recall by hand", writes, door.Staff, apiAddRecall).making("/patients/:id"),
	op("contactRecall", http.MethodPost, "/recalls/{id}/contacts", "Write down a try to reach a patient about a recall", writes, door.Staff, apiContactRecall).making("/recalls"),
	op("closeRecall", http.MethodPost, "/recalls/{id}/done", "Say that what a recall waited for has come", writes, door.Staff, apiCloseRecall),
	op("cancelRecall", http.MethodPost, "/recalls/{id}/cancellation", "Give a recall up", writes, door.Staff, apiCancelRecall),
	op("moveRecall", http.MethodPut, "/recalls/{id}/date", "Give a recall another date", writes, door.Staff, apiMoveRecall),

	op("openLetter", http.MethodPost, "/wears/{id}/letters", "Write a letter from the findings of a wear, for its sender to read", writes, door.Staff, apiOpenLetter).making("/letters/{id}"),
	op("getLetter", http.MethodGet, "/letters/{id}", "One letter", reads, door.Staff, apiGetLetter),
	op("sendLetter", http.MethodPost, "/letters/{id}/sending", "Keep a letter as sent", writes, door.Staff, apiSendLetter),
	op("discardLetter", http.MethodPost, "/letters/{id}/discard", "Throw an open letter away", writes, door.Staff, apiDiscardLetter),
	op("listTemplates", http.MethodGet, "/templates", "The text in force for every kind of letter", reads, door.Staff, apiListTemplates),
	op("setTemplate", http.MethodPut, "/templates/{kind}", "Keep the practice's own text for a kind of letter", writes, door.Leads, apiSetTemplate),

	op("listFiles", http.MethodGet, "/files", "What came through the watched folder and what became of it; held files alone come in the order in which they need a person", reads, door.Staff, apiListFiles),
	op("sendFile", http.MethodPost, "/files", "Send an export file in; it goes the way of those in the watched folder", drops, door.Staff, apiSendFile),
	op("answerFile", http.MethodPost, "/files/{id}/answers", "Answer the questions of a held file", writes, door.Staff, apiAnswerFile),
	op("getNameRule", http.MethodGet, "/name-rule", "Where the patient's code stands in a file's name", reads, door.Staff, apiGetNameRule),
	op("setNameRule", http.MethodPut, "/name-rule", "Keep another rule; held files that ask whose they are, are read again", writes, door.Leads, apiSetNameRule),
	op("listRecipes", http.MethodGet, "/recipes", "How each layout is read", reads, door.Staff, apiListRecipes),
	op("setSensorKind", http.MethodPut, "/recipes/{id}/sensor-kind", "Say which kind of sensor a layout comes from", writes, door.Staff, apiSetSensorKind),
	op("withdrawRecipe", http.MethodPost, "/recipes/{id}/withdrawal", "Take a wrong recipe out of use; its wears are in doubt from then on", writes, door.Staff, apiWithdrawRecipe),
	op("readAgain", http.MethodPost, "/recipes/{id}/reading", "Have the files of a withdrawn recipe read again", writes, door.Staff, apiReadAgain),

	op("listPeople", http.MethodGet, "/people", "Who may sign in", reads, door.Leads, apiListPeople),
	op("addPerson", http.MethodPost, "/people", "Add somebody and get their one-time link", writes, door.Leads, apiAddPerson).making("/people"),
	op("editPerson", http.MethodPut, "/people/{id}", "Change somebody's name, roles and access", writes, door.Leads, apiEditPerson),
	op("invitePerson", http.MethodPost, "/people/{id}/link", "Make a one-time link in place of the password", writes, door.Leads, apiInvite),
	op("resetFactor", http.MethodPost, "/people/{id}/factor-reset", "Take away the second factor of somebody who lost it", writes, door.Leads, apiResetFactor),

	op("getAudit", http.MethodGet, "/audit", "What was found in a period and what came of it, in counts", reads, door.Counters, apiGetAudit),
	op("getLog", http.MethodGet, "/log", "Who did and saw what, newest first", reads, door.Reviews, apiGetLog),
	op("verifyLog", http.MethodPost, "/log/verification", "Check that the log holds together", reads, door.Reviews, apiVerifyLog),
}
