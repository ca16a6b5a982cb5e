package audit

import (
	"encoding/json"
	"fmt"
	"maps"
	"net/http"
	"slices"

	"github.com/gin-gonic/gin"

	"wearround/web"
	"wearround/worker/wear"
)

// ProtocolPage lists every limit in force.
func (s *Audit) ProtocolPage(c *gin.Context) (web.Page, error) {
	made, err := s.Store.OpenByProtocol(c.Request.Context())
	if err != nil {
		return nil, err
	}
	p := web.ProtocolPage{Layout: s.Layout(c), Engine: wear.EngineVersion, Settings: settings(s.Protocol), ProposedBy: s.Protocol.ProposedBy}
	for _, version := range slices.Sorted(maps.Keys(made)) {
		p.Made = append(p.Made, web.MadeUnder{Protocol: version, Wears: made[version]})
	}
	return p, nil
}

// settings are the numbers of a protocol as pages show them.
func settings(p *wear.Protocol) []web.Setting {
	var out []web.Setting
	for _, x := range p.Settings() {
		out = append(out, web.Setting{Name: x.Name, Value: x.Value, Unit: x.Unit, Range: x.Range, Source: x.Source, Status: x.Status, ProposedBy: p.Proposers[x.Name]})
	}
	return out
}

// ProtocolFile gives the protocol in force as the file that the command reads.
func (s *Audit) ProtocolFile(c *gin.Context) (web.Page, error) {
	text, err := json.MarshalIndent(s.Protocol, "", "  ")
	if err != nil {
		return nil, fmt.Errorf("write the protocol: %w", err)
	}
	c.Header("Content-Disposition", `attachment; filename="protocol.json"`)
	c.Data(http.StatusOK, "application/json", append(text, '\n'))
	return nil, nil
}
