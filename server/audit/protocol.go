package audit

import (
	"maps"
	"slices"

	"github.com/gin-gonic/gin"

	"wearround/web"
	"wearround/worker/wear"
)

// ProtocolPage lists every limit in force, and the versions that the practice
// keeps.
func (s *Audit) ProtocolPage(c *gin.Context) (web.Page, error) { return s.protocolPage(c) }

func (s *Audit) protocolPage(c *gin.Context) (web.ProtocolPage, error) {
	p := web.ProtocolPage{Layout: s.Layout(c), Engine: wear.EngineVersion, Settings: settings(s.Protocol()), ProposedBy: s.Protocol().ProposedBy}
	made, err := s.Store.OpenByProtocol(c.Request.Context())
	if err != nil {
		return p, err
	}
	for _, version := range slices.Sorted(maps.Keys(made)) {
		p.Made = append(p.Made, web.MadeUnder{Protocol: version, Wears: made[version]})
	}
	p.Versions, p.Waiting, err = s.versions(c)
	return p, err
}

// settings are the numbers of a protocol as pages show them: with a name beside
// each that somebody else put forward than the rest.
func settings(p *wear.Protocol) []wear.Setting {
	list := p.Settings()
	for i := range list {
		list[i].ProposedBy = p.Proposers[list[i].Name]
	}
	return list
}

// ProtocolFile gives the protocol in force as the file that the command reads.
func (s *Audit) ProtocolFile(c *gin.Context) (web.Page, error) {
	return nil, sendProtocol(c, s.Protocol())
}
