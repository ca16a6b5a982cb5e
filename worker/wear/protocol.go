package wear

// Protocol is the practice's limits as data. Every number that a clinician
// must agree to stands here and nowhere else; a report carries its Version.
type Protocol struct {
	Version string `json:"version"`
	Status  string `json:"status"` // "unsigned proposal" until a clinician signs
}

// DefaultProtocol is the protocol that ships: a proposal, not yet signed.
func DefaultProtocol() *Protocol {
	return &Protocol{Version: "2026.1", Status: "unsigned proposal"}
}
