package export

import (
	"archive/zip"
	"bytes"
	"context"
	"encoding/base64"
	"encoding/json"
	"fmt"
	"html/template"
	"io"
	"strconv"
	"time"

	"wearround/store"
	"wearround/web/delimited"
)

// archive is a zip that is written one file after the other, with an index.
type archive struct {
	zip   *zip.Writer
	at    time.Time
	index []entry
}

type entry struct{ Name, What string }

func (a *archive) add(name, what string, data []byte, err error) error {
	if err != nil {
		return err
	}
	w, err := a.zip.CreateHeader(&zip.FileHeader{Name: name, Method: zip.Deflate, Modified: a.at})
	if err != nil {
		return err
	}
	if what != "" {
		a.index = append(a.index, entry{name, what})
	}
	_, err = w.Write(data)
	return err
}

// close writes the index and the end of the archive.
func (a *archive) close(title, says string) error {
	var b bytes.Buffer
	err := indexPage.Execute(&b, struct {
		Title, Says string
		At          time.Time
		Files       []entry
	}{title, says, a.at, a.index})
	if err := a.add("index.html", "", b.Bytes(), err); err != nil {
		return err
	}
	return a.zip.Close()
}

// indexPage needs nothing beside itself, so that it opens anywhere for years.
var indexPage = template.Must(template.New("").Parse(`<!doctype html>
<html lang="en"><head><meta charset="utf-8"><meta name="viewport" content="width=device-width"><title>{{.Title}}</title>
<style>body{font:16px/1.5 serif;max-width:45em;margin:2em auto;padding:0 1em;color:#2B2438;background:#FBF7F0}td{padding:.2em 1em .2em 0;vertical-align:top}</style></head>
<body><h1>{{.Title}}</h1>
<p>{{.Says}}</p>
<p>Made on {{.At.Format "2 January 2006, 15:04 MST"}}. Tables are CSV in UTF-8; files that end in .ndjson hold one FHIR R4 resource a line. LOINC codes are of Regenstrief Institute, Inc., units of UCUM.</p>
<table><tbody>{{range .Files}}<tr><td><a href="{{.Name}}">{{.Name}}</a></td><td>{{.What}}</td></tr>{{end}}</tbody></table>
</body></html>
`))

// Person writes everything that is held of a patient as an archive with an index:
// what an access request asks for.
func (s *Source) Person(ctx context.Context, patientID int64, to io.Writer) error {
	p, err := s.Store.Patient(ctx, patientID)
	if err != nil {
		return err
	}
	a := &archive{zip: zip.NewWriter(to), at: s.Now().In(s.Zone)}
	if err := s.wears(ctx, a, p.ID); err != nil {
		return err
	}
	results, err := s.Store.Results(ctx, p.ID)
	if err != nil {
		return err
	}
	if err := a.add("results.csv", "Laboratory results", Results(map[int64]string{p.ID: p.Code}, results), nil); err != nil {
		return err
	}
	labs, err := lines(LabResults(p, results))
	if err := a.add("results.ndjson", "The same in FHIR R4", labs, err); err != nil {
		return err
	}
	if err := s.tables(ctx, a, p.ID); err != nil {
		return err
	}
	if s.Original != nil {
		hashes, err := s.Store.OwnFiles(ctx, p.ID)
		if err != nil {
			return err
		}
		for _, h := range hashes {
			data, err := s.Original(h)
			if err := a.add("originals/"+h, "A file as it was received", data, err); err != nil {
				return err
			}
		}
	}
	says := "This is everything that the practice’s wearround holds of one person. What other people’s files also speak of is left out. The folder tables has the database’s own rows."
	if s.Original == nil {
		says += " The files as they were received are added by the command “wearround export person”."
	}
	return a.close("All that is held of "+p.Code, says)
}

// wears adds each wear of a patient in all formats, with its report.
func (s *Source) wears(ctx context.Context, a *archive, patientID int64) error {
	list, err := s.Store.WearsOf(ctx, patientID)
	if err != nil {
		return err
	}
	for _, sum := range list {
		w, err := s.Wear(ctx, sum.ID)
		if err != nil {
			return err
		}
		name := "wears/" + strconv.FormatInt(w.ID, 10)
		what := "Wear of " + sum.Start.In(w.Place).Format("2 January 2006")
		for _, format := range []string{CSV, NDJSON} {
			_, end := Media(format)
			data, err := w.Write(format)
			if err := a.add(name+end, what, data, err); err != nil {
				return err
			}
		}
		report, err := json.MarshalIndent(w.Report, "", " ")
		if err := a.add(name+".report.json", what+": the report", report, err); err != nil {
			return err
		}
	}
	return nil
}

// tables adds what the database holds of a patient, a table each.
func (s *Source) tables(ctx context.Context, a *archive, patientID int64) error {
	sheets := map[string]*delimited.Table{}
	var order []string
	err := s.Store.PersonRows(ctx, patientID, func(r store.PersonRow) error {
		t := sheets[r.Table]
		if t == nil {
			t = delimited.New(r.Columns...)
			sheets[r.Table] = t
			order = append(order, r.Table)
		}
		cells := make([]string, len(r.Values))
		for i, v := range r.Values {
			switch v := v.(type) {
			case nil:
			case []byte:
				cells[i] = base64.StdEncoding.EncodeToString(v)
			default:
				cells[i] = fmt.Sprint(v)
			}
		}
		t.Row(cells...)
		return nil
	})
	if err != nil {
		return err
	}
	for _, name := range order {
		what := "Rows of the table " + name
		if name == "audit" {
			what = "Who looked at or changed what is held of this person, and when"
		}
		if err := a.add("tables/"+name+".csv", what, sheets[name].Bytes(), nil); err != nil {
			return err
		}
	}
	return nil
}

// Practice writes every wear and result of the practice as an archive: tables,
// and FHIR R4 a file a wear.
func (s *Source) Practice(ctx context.Context, to io.Writer) error {
	patients, err := s.Store.Patients(ctx)
	if err != nil {
		return err
	}
	a := &archive{zip: zip.NewWriter(to), at: s.Now().In(s.Zone)}
	people := delimited.New("patient", "name", "birth_date")
	var results []store.Result
	var heads []*Wear
	codes := map[int64]string{}
	for _, p := range patients {
		people.Row(p.Code, p.Name, p.BirthDate)
		codes[p.ID] = p.Code
		list, err := s.Store.Results(ctx, p.ID)
		if err != nil {
			return err
		}
		results = append(results, list...)
		if len(list) > 0 {
			data, err := lines(LabResults(p, list))
			if err := a.add("results/"+strconv.FormatInt(p.ID, 10)+".ndjson", "", data, err); err != nil {
				return err
			}
		}
		sums, err := s.Store.WearsOf(ctx, p.ID)
		if err != nil {
			return err
		}
		for _, sum := range sums {
			w, err := s.Wear(ctx, sum.ID)
			if err != nil {
				return err
			}
			for _, format := range []string{CSV, NDJSON} {
				_, end := Media(format)
				data, err := w.Write(format)
				if err := a.add("wears/"+strconv.FormatInt(w.ID, 10)+end, "", data, err); err != nil {
					return err
				}
			}
			w.Readings, w.Events = nil, nil
			heads = append(heads, w)
		}
	}
	for _, f := range []struct {
		name, what string
		data       []byte
	}{
		{"patients.csv", "The register", people.Bytes()},
		{"wears.csv", "Every wear with its main figures; the folder wears has its readings, as a table and in FHIR R4", Wears(heads)},
		{"results.csv", "Laboratory results; the folder results has them in FHIR R4, a file a patient", Results(codes, results)},
	} {
		if err := a.add(f.name, f.what, f.data, nil); err != nil {
			return err
		}
	}
	return a.close("The practice’s wears and results", "This is every wear and every laboratory result that the practice’s wearround holds. It names people: keep it as you keep records.")
}
