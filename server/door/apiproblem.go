package door

import (
	"encoding/json"
	"net/http"

	"github.com/gin-gonic/gin"
)

// ApiProblem is an RFC 9457 problem. Its type and code say the same, what to do
// about it, and never change; a person looks at detail.
type ApiProblem struct {
	Type     string         `json:"type" enum:"urn:wearround:problem:invalid|urn:wearround:problem:conflict|urn:wearround:problem:not_found|urn:wearround:problem:forbidden|urn:wearround:problem:unauthorised|urn:wearround:problem:too_many|urn:wearround:problem:internal"`
	Title    string         `json:"title" doc:"the type in words"`
	Status   int            `json:"status"`
	Code     string         `json:"code" enum:"invalid|conflict|not_found|forbidden|unauthorised|too_many|internal" doc:"the last part of the type: invalid, not_found and forbidden will be refused again; conflict may pass once the data have been read anew, unauthorised with another token, too_many and internal later"`
	Detail   string         `json:"detail" doc:"a plain sentence; names no patient, except who else works on a wear"`
	Instance string         `json:"instance" doc:"the request, as in the program's log"`
	Fields   []apiFieldFail `json:"fields,omitempty"`
}

type apiFieldFail struct {
	Field  string `json:"field"`
	Detail string `json:"detail"`
}

// problemTitles are the types of problem by the last part of their name.
var problemTitles = map[string]string{
	"invalid":      "What was asked for cannot be done as it was asked",
	"conflict":     "The data do not allow it as they are",
	"not_found":    "There is nothing at this address",
	"forbidden":    "Whoever asks may not do this",
	"unauthorised": "Nobody is known to ask",
	"too_many":     "Too many requests",
	"internal":     "A fault of the program",
}

// failAPI answers with a problem.
func (s *Door) failAPI(c *gin.Context, err error) {
	p := s.explain(c, err)
	code := problemCode(p.Status)
	body := ApiProblem{
		Type: "urn:wearround:problem:" + code, Title: problemTitles[code], Status: p.Status, Code: code,
		Detail: p.Sentence, Instance: "urn:wearround:request:" + c.GetString(Reference),
	}
	for _, f := range p.Fields {
		body.Fields = append(body.Fields, apiFieldFail{f.Field, f.Text})
	}
	b, err := json.Marshal(body)
	if err != nil {
		panic("server: a problem cannot be written: " + err.Error()) // strings and numbers only
	}
	c.Data(p.Status, "application/problem+json", b)
}

func problemCode(status int) string {
	switch status {
	case http.StatusUnauthorized:
		return "unauthorised"
	case http.StatusForbidden:
		return "forbidden"
	case http.StatusNotFound, http.StatusMethodNotAllowed:
		return "not_found"
	case http.StatusConflict:
		return "conflict"
	case http.StatusTooManyRequests:
		return "too_many"
	}
	if status >= 500 {
		return "internal"
	}
	return "invalid"
}
