package audit

import (
	"github.com/gin-gonic/gin"

	"wearround/web"
	"wearround/worker/wear"
)

// About says how the program decides.
func (s *Audit) About(c *gin.Context) (web.Page, error) {
	return web.AboutPage{Layout: s.Layout(c), Engine: wear.EngineVersion, Notices: notices}, nil
}

// notices name the works of others that pages or exports rely on.
var notices = []web.Notice{
	{Name: "UCUM units", Licence: "UCUM licence; units of measure are used under its terms"},
}
