package server

import (
	"github.com/gin-gonic/gin"

	"wearround/web"
	"wearround/worker/wear"
)

// about says how the program decides.
func (s *Server) about(c *gin.Context) (web.Page, error) {
	return web.AboutPage{Layout: s.layout(c), Engine: wear.EngineVersion, Notices: notices}, nil
}

// notices name the works of others that pages or exports rely on.
var notices = []web.Notice{
	{Name: "UCUM units", Licence: "UCUM licence; units of measure are used under its terms"},
}
