package letter

// Kind is what a letter or sheet is for.
type Kind string

// Kinds of letter.
const (
	Unremarkable Kind = "patient_unremarkable" // to the patient: nothing passed a limit
	Near         Kind = "patient_near"         // to the patient: no limit was passed, one is near
	Tests        Kind = "patient_tests"        // to the patient: tests or a talk are wanted
	WearAgain    Kind = "patient_wear_again"   // to the patient: this wear cannot tell
	Clinician    Kind = "clinician"            // to another clinician
	SensorFailed Kind = "sensor_failed"        // to whoever supplied a sensor that failed
	StartSheet   Kind = "wear_start"           // to hand over at the start of a wear
	SendSheet    Kind = "how_to_send"          // how the wearer sends the file in
)

// Kinds lists every kind in the order in which they are offered.
func Kinds() []Kind {
	return []Kind{Unremarkable, Near, Tests, WearAgain, Clinician, SensorFailed, StartSheet, SendSheet}
}

// Title is the kind in words: what the practice calls such a letter.
func (k Kind) Title() string {
	switch k {
	case Unremarkable:
		return "To the patient: nothing needs follow-up"
	case Near:
		return "To the patient: near one of our limits"
	case Tests:
		return "To the patient: tests are wanted"
	case WearAgain:
		return "To the patient: please wear another sensor"
	case Clinician:
		return "To another clinician"
	case SensorFailed:
		return "About a sensor that failed"
	case StartSheet:
		return "Sheet for the start of a wear"
	case SendSheet:
		return "Sheet on sending the file in"
	}
	return "Letter"
}

// Known reports whether k is one of [Kinds].
func (k Kind) Known() bool { return k.Title() != "Letter" }

// Sheet reports whether k is handed to everyone and so names no patient.
func (k Kind) Sheet() bool { return k == StartSheet || k == SendSheet }

// ToPatient reports whether the patient reads it.
func (k Kind) ToPatient() bool { return k != Clinician && k != SensorFailed }
