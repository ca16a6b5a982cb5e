package wear

// Fate is what became of one filled cell of a file.
type Fate string

// The fates of a cell. A cell has exactly one.
const (
	FateReading Fate = "reading"
	FateEvent   Fate = "event"  // a meal, symptom, fingerstick and the like, or a part of one
	FateTime    Fate = "time"   // the time or unit of a reading or event
	FateFact    Fate = "fact"   // about the file, its person or its sensor
	FateRepeat  Fate = "repeat" // says again what another cell says
	FateTotal   Fate = "total"  // a total or remark outside the table
	FateAside   Fate = "aside"  // set aside, for the reason given
)

// Account is what became of every filled cell of a file.
type Account struct {
	Cells int           `json:"cells"` // filled cells of the file
	Lines []AccountLine `json:"lines"`
}

// AccountLine is the cells of one place that have the same fate for the same
// reason.
type AccountLine struct {
	Where string `json:"where"` // `column 7, "Ketone"`, "above the table"
	Fate  Fate   `json:"fate"`
	Cells int    `json:"cells"`
	Why   string `json:"why,omitempty"`
}

// Balanced reports whether every filled cell is accounted for.
func (a *Account) Balanced() bool {
	sum := 0
	for _, l := range a.Lines {
		sum += l.Cells
	}
	return sum == a.Cells
}
