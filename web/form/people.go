package form

import (
	"net/url"
	"slices"
	"strings"
	"time"

	"wearround/worker/wear"
)

// Person is a person to be given a sign-in.
type Person struct {
	Name  string
	Login string
	Roles []string
}

// ParsePerson reads name, login and role (several).
func ParsePerson(v url.Values) (Person, []FieldError) {
	f := &fields{Values: v}
	p := Person{Name: f.needed("name", "Write the name as colleagues know it.", 80), Login: parseLogin(f), Roles: parseRoles(f)}
	return p, f.errors
}

// ParseRoles reads role (several).
func ParseRoles(v url.Values) ([]string, []FieldError) {
	f := &fields{Values: v}
	return parseRoles(f), f.errors
}

func parseRoles(f *fields) []string {
	var out []string
	for _, r := range RoleOrder {
		if slices.Contains(f.Values["role"], r) {
			out = append(out, r)
		}
	}
	if len(out) == 0 {
		f.refuse("role", "Choose at least one role.")
	}
	return out
}

// parseLogin keeps to letters, digits, point, hyphen and underscore, in lower
// case, so that a name can be read out over the telephone.
func parseLogin(f *fields) string {
	s := strings.ToLower(f.needed("login", "Write the name to sign in with.", 64))
	if strings.ContainsFunc(s, func(r rune) bool { return !strings.ContainsRune("abcdefghijklmnopqrstuvwxyz0123456789.-_", r) }) {
		f.refuse("login", "Use letters a to z, digits, points, hyphens and underscores only.")
	}
	return s
}

// PatientRecord is what the practice keeps of a person on the register.
type PatientRecord struct {
	Patient Patient
	Contact Contact
	Context wear.Context
}

// ContextFields are the boxes of a patient's form, in their order.
var ContextFields = []struct {
	name, Words string
	Of          func(*wear.Context) *bool
}{
	{"insulin", "Uses insulin", func(c *wear.Context) *bool { return &c.Insulin }},
	{"sulfonylurea", "Takes a sulfonylurea", func(c *wear.Context) *bool { return &c.Sulfonylurea }},
	{"glucose_lowering", "Takes another medicine that can cause lows", func(c *wear.Context) *bool { return &c.GlucoseLowering }},
	{"masking_medicine", "Takes metformin, a GLP-1 agonist or an SGLT2 inhibitor", func(c *wear.Context) *bool { return &c.Masking }},
	{"raising_medicine", "Takes a medicine that can raise glucose, such as an antipsychotic", func(c *wear.Context) *bool { return &c.Raising }},
	{"steroid", "Takes a steroid", func(c *wear.Context) *bool { return &c.Steroid }},
	{"pregnant", "Is pregnant", func(c *wear.Context) *bool { return &c.Pregnant }},
	{"bariatric_surgery", "Has had surgery of the stomach for weight", func(c *wear.Context) *bool { return &c.BariatricSurgery }},
	{"low_carbohydrate", "Eats little carbohydrate", func(c *wear.Context) *bool { return &c.LowCarbohydrate }},
	{"shift_work", "Works shifts", func(c *wear.Context) *bool { return &c.ShiftWork }},
	{"family_history", "Has diabetes in the family", func(c *wear.Context) *bool { return &c.FamilyHistory }},
	{"gestational_diabetes", "Had diabetes in an earlier pregnancy", func(c *wear.Context) *bool { return &c.GestationalDiabetes }},
	{"polycystic_ovary", "Has polycystic ovary syndrome", func(c *wear.Context) *bool { return &c.PolycysticOvary }},
	{"cardiovascular_event", "Has had a heart attack or a stroke", func(c *wear.Context) *bool { return &c.CardiovascularEvent }},
	{"overweight", "Is overweight", func(c *wear.Context) *bool { return &c.Overweight }},
	{"hypertension", "Has high blood pressure", func(c *wear.Context) *bool { return &c.Hypertension }},
}

// ParsePatient reads code, name, birth, sex, phone, email, address, prefers,
// note, asked and context (several).
func ParsePatient(v url.Values, now time.Time) (PatientRecord, []FieldError) {
	f := &fields{Values: v, zone: now.Location()}
	r := PatientRecord{
		Patient: Patient{Code: f.needed("code", "Write the practice’s own code for the patient.", 80), Name: f.text("name", MostLine)},
		Contact: Contact{
			Phone: f.text("phone", 80), Note: f.text("note", MostLine), Email: f.text("email", MostLine), Address: f.text("address", 400),
			Prefers: f.one("prefers", "", meansOrder...),
		},
	}
	if strings.Contains(r.Patient.Code, "\n") {
		f.refuse("code", "Write the code on one line.")
	}
	if birth := f.day("birth", ""); !birth.IsZero() {
		switch {
		case birth.After(now):
			f.refuse("birth", "This day has not come yet.")
		case birth.Year() < now.Year()-130:
			f.refuse("birth", "This is more than 130 years ago: check the year.")
		}
		r.Patient.BirthDate, r.Context.BirthYear = birth.Format(time.DateOnly), birth.Year()
	}
	if asked := f.day("asked", ""); !asked.IsZero() {
		if asked.After(now) {
			f.refuse("asked", "This day has not come yet.")
		}
		r.Context.AskedOn = asked.Format(time.DateOnly)
	}
	r.Context.Sex = f.one("sex", "", "female", "male")
	if e := r.Contact.Email; e != "" && !strings.Contains(e, "@") {
		f.refuse("email", "Write the whole address, with the @ sign.")
	}
	for _, c := range ContextFields {
		*c.Of(&r.Context) = slices.Contains(v["context"], c.name)
	}
	return r, f.errors
}

// Values fills a patient's form.
func (r PatientRecord) Values() url.Values {
	v := url.Values{
		"code": {r.Patient.Code}, "name": {r.Patient.Name}, "birth": {r.Patient.BirthDate}, "asked": {r.Context.AskedOn}, "sex": {r.Context.Sex},
		"phone": {r.Contact.Phone}, "note": {r.Contact.Note}, "email": {r.Contact.Email}, "address": {r.Contact.Address}, "prefers": {r.Contact.Prefers},
	}
	for _, c := range ContextFields {
		if *c.Of(&r.Context) {
			v.Add("context", c.name)
		}
	}
	return v
}
