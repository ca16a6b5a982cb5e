package server

import (
	"github.com/gin-gonic/gin"

	"wearround/web"
	"wearround/worker/wear"
)

// about says how the program decides and by what limits.
func (s *Server) about(c *gin.Context) (web.Page, error) {
	p := web.AboutPage{Layout: s.layout(c), Engine: wear.EngineVersion, Notices: notices}
	for _, x := range s.Protocol.Settings() {
		p.Settings = append(p.Settings, web.Setting{Name: x.Name, Value: x.Value, Unit: x.Unit, Source: x.Source, Status: x.Status, ProposedBy: x.ProposedBy})
	}
	return p, nil
}

// notices name the works of others that pages or exports rely on.
var notices = []web.Notice{
	{Name: "UCUM units", Licence: "UCUM licence; units of measure are used under its terms"},
}
