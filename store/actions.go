package store

// Action names what the log says was done. The names are stored for ever.
type Action string

// What the program does by itself.
const (
	JudgesAnew        Action = "judge wears anew"
	MovesTier         Action = "make a report anew" // to another tier
	ComesBack         Action = "come back to the round"
	CorrectsFirstTier Action = "correct a first tier"
	ClosesRecall      Action = "close a recall"
	RevivesRecall     Action = "open a recall again"
	TakesResult       Action = "take a result from a message"
	RetractsResult    Action = "take back the result of a message"
)
