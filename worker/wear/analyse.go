package wear

// Split cuts readings into wears where a gap is longer than the protocol allows.
func Split(readings []Reading, p *Protocol) [][]Reading { return [][]Reading{readings} }

// Analyse makes the report of one wear.
func Analyse(in Input) *Report { return &Report{Engine: EngineVersion, Protocol: in.Protocol.Version} }
