package main

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"io"
	"math"
	"os"
	"path/filepath"
	"strconv"
	"time"

	"wearround/server/export"
	"wearround/worker"
)

const exportUsage = `wearround export wear ID [--format csv|fhir|ndjson] [--out FILE] [--data DIR]
wearround export person CODE --out FILE.zip [--data DIR]
wearround export practice --out FILE.zip [--data DIR]
wearround export --deidentified DIR --code CODE [--data DIR]

Writes what the practice holds in open formats: tables by RFC 4180 and FHIR R4, which this program reads
again as the same readings and events. A person's archive holds everything there is of them, with an index
page and the files as they were received: what an access request asks for. What was given out is logged.

--deidentified writes what a network of practices audits by as Parquet, for existing engines: wears, flags,
outcomes and results under DIR/TABLE/practice=CODE/year=YEAR/. No name, no code of a patient, no date but
the month, no trace; wears and people are numbered anew. CODE is an opaque code of the practice's own
choice. Rows of one person remain rows of one person: keep the files inside the network, and publish no
small count.
`

// exportCommand writes one wear, all of a person, the practice, or what a network
// of practices audits by.
func exportCommand(ctx context.Context, args []string, stdout, _ io.Writer) (err error) {
	fs, d := deskFlags("export", exportUsage)
	format := fs.String("format", export.CSV, "of a wear: csv, fhir or ndjson")
	out := fs.String("out", "", "`file` to write, which must not be there yet; a wear goes to the screen without one")
	network := fs.String("deidentified", "", "`folder` to write what a network audits by to")
	code := fs.String("code", "", "opaque `code` of the practice for its network: letters, digits, _ and -")
	zoneName := fs.String("zone", "Local", "time zone of the practice, as given to serve")
	rest, err := fs.parse(args, stdout, 0, math.MaxInt)
	if err != nil {
		return err
	}
	zone, err := loadZone(*zoneName)
	if err != nil {
		return asUsage(err)
	}
	what := ""
	if len(rest) > 0 {
		what = rest[0]
	}
	media, _ := export.Media(*format)
	switch {
	case *network != "" && len(rest) == 0 && networkCode.MatchString(*code):
	case *network != "":
		return &usageError{"say which practice with --code: letters, digits, _ and -\n" + exportUsage}
	case what == "wear" && len(rest) == 2 && media != "", what == "person" && len(rest) == 2 && *out != "", what == "practice" && len(rest) == 1 && *out != "":
	default:
		return &usageError{"say what to export\n" + exportUsage}
	}
	if err := d.open(ctx); err != nil {
		return err
	}
	defer func() { err = errors.Join(err, d.Close()) }()
	if *network != "" {
		if err := d.RecordExport(ctx, 0, "what the network audits by, without names"); err != nil { // before it leaves
			return err
		}
		return d.writeNetwork(ctx, *network, *code, zone, stdout)
	}
	archive, err := worker.OpenArchive(filepath.Join(d.data, "archive"))
	if err != nil {
		return err
	}
	from := &export.Source{Store: d.Store, Zone: zone, Now: time.Now, Original: archive.Get}
	data, patient, what, err := exported(ctx, d, from, rest, *format)
	if err != nil {
		return err
	}
	if err := d.RecordExport(ctx, patient, what); err != nil { // before it leaves
		return err
	}
	if *out == "" {
		_, err := stdout.Write(data)
		return err
	}
	if _, err := os.Lstat(*out); err == nil {
		return fmt.Errorf("%s is there already: give the file another name", *out)
	}
	return writeNew(*out, data)
}

// exported gives the bytes of what was asked for, of whom they are (0: of all),
// and what the log calls them.
func exported(ctx context.Context, d *desk, from *export.Source, asked []string, format string) (data []byte, patient int64, what string, err error) {
	var b bytes.Buffer
	switch asked[0] {
	case "wear":
		id, err := strconv.ParseInt(asked[1], 10, 64)
		if err != nil {
			return nil, 0, "", &usageError{fmt.Sprintf("%q is no number of a wear: take it from its address", asked[1])}
		}
		w, err := from.Wear(ctx, id)
		if err != nil {
			return nil, 0, "", err
		}
		data, err := w.Write(format)
		return data, w.Patient.ID, fmt.Sprintf("wear %d, %s", w.ID, format), err
	case "person":
		p, err := d.PatientByCode(ctx, asked[1])
		if err != nil {
			return nil, 0, "", err
		}
		err = from.Person(ctx, p.ID, &b)
		return b.Bytes(), p.ID, "all that is held", err
	}
	err = from.Practice(ctx, &b)
	return b.Bytes(), 0, asked[0], err
}
