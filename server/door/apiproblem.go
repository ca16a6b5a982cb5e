package door

import (
	"encoding/json"
	"net/http"

	"github.com/gin-gonic/gin"
)

// ApiProblem is an RFC 9457 problem. Its type is always "about:blank", so the
// title is that of the status; a program looks at code, a person at detail.
type ApiProblem struct {
	Type     string         `json:"type" enum:"about:blank"`
	Title    string         `json:"title" doc:"the status in words"`
	Status   int            `json:"status"`
	Code     string         `json:"code" enum:"invalid|conflict|not_found|forbidden|unauthorised|internal" doc:"what to do about it: invalid and forbidden will be refused again; conflict may pass once the data have been read anew"`
	Detail   string         `json:"detail" doc:"a plain sentence; names no patient, except who else works on a wear"`
	Instance string         `json:"instance" doc:"the request, as in the program's log"`
	Fields   []apiFieldFail `json:"fields,omitempty"`
}

type apiFieldFail struct {
	Field  string `json:"field"`
	Detail string `json:"detail"`
}

// failAPI answers with a problem.
func (s *Door) failAPI(c *gin.Context, err error) {
	p := s.explain(c, err)
	body := ApiProblem{
		Type: "about:blank", Title: http.StatusText(p.Status), Status: p.Status, Code: problemCode(p.Status),
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
	}
	if status >= 500 {
		return "internal"
	}
	return "invalid"
}
