package store

import "fmt"

// waiting begins a query with the held files that may change a wear: file, and
// of whom or what it is: patient, wear, or said, a patient's code in capitals.
// They are the files of a patient, those that brought readings to a wear and are
// to be read again, and those for which a question offers, or an answer names, a
// patient. An entry that was merged counts as the one that it was merged into.
var waiting = `WITH named (file, said) AS (
		SELECT files.id, c.value ->> 'value' FROM files CROSS JOIN json_each(questions) q CROSS JOIN json_each(q.value, '$.choices') c
			WHERE state = 'held' AND c.type = 'object' AND (` + aboutPatient("q.value ->> 'code'") + `)
		UNION SELECT files.id, answers.value FROM files CROSS JOIN answers ON file_id = files.id
			WHERE state = 'held' AND (` + aboutPatient("answers.code") + `)),
	waiting (file, patient, wear, said) AS (
		SELECT id, patient_id, 0, '' FROM files WHERE state = 'held' AND patient_id IS NOT NULL
		UNION ALL SELECT file_id, 0, wear_id, '' FROM files CROSS JOIN file_wears ON file_id = files.id WHERE state = 'held'
		UNION ALL SELECT file, coalesce(` + fmt.Sprintf(live, "code = named.said") + `, 0), 0, upper(said) FROM named)
	`

// aboutPatient is a condition: the value of a question or an answer with this
// code is a patient's code.
func aboutPatient(code string) string {
	return fmt.Sprintf("%[1]s GLOB '%[2]s*' OR %[1]s GLOB '%[3]s*' OR %[1]s GLOB '%[4]s*' OR %[1]s GLOB '%[5]s*' OR %[1]s GLOB '%[6]s*'",
		code, patientQuestion, personQuestion, WrongPerson, FiledFor, CopyFor)
}

// codeOfWear is the code of the patient of a row of wears, as waiting has it.
const codeOfWear = "(SELECT upper(patients.code) FROM patients WHERE patients.id = wears.patient_id)"

// mayChange is an expression over a row of wears in a query that waiting begins.
const mayChange = `(wears.patient_id IN (SELECT patient FROM waiting) OR wears.id IN (SELECT wear FROM waiting)
	OR ` + codeOfWear + ` IN (SELECT said FROM waiting))`

// waitingFor is an expression over one row of wears: the held files that may
// change it, as JSON.
var waitingFor = `(` + waiting + `SELECT json_group_array(DISTINCT file) FROM waiting
	WHERE patient = wears.patient_id OR wear = wears.id OR said = ` + codeOfWear + `)`
