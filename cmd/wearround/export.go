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

Writes what the practice holds in open formats: tables by RFC 4180 and FHIR R4, which this program reads
again as the same readings and events. A person's archive holds everything there is of them, with an index
page and the files as they were received: what an access request asks for. What was given out is logged.
`

// exportCommand writes one wear, all of a person, or the practice.
func exportCommand(ctx context.Context, args []string, stdout, _ io.Writer) (err error) {
	fs, d := deskFlags("export", exportUsage)
	format := fs.String("format", export.CSV, "of a wear: csv, fhir or ndjson")
	out := fs.String("out", "", "`file` to write, which must not be there yet; a wear goes to the screen without one")
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
	case what == "wear" && len(rest) == 2 && media != "", what == "person" && len(rest) == 2 && *out != "", what == "practice" && len(rest) == 1 && *out != "":
	default:
		return &usageError{"say what to export\n" + exportUsage}
	}
	if err := d.open(ctx); err != nil {
		return err
	}
	defer func() { err = errors.Join(err, d.Close()) }()
	archive, err := worker.OpenArchive(filepath.Join(d.data, "archive"))
	if err != nil {
		return err
	}
	from := &export.Source{Store: d.Store, Zone: zone, Now: time.Now, Original: archive.Get}
	var b bytes.Buffer
	var patient int64
	switch what {
	case "wear":
		id, err := strconv.ParseInt(rest[1], 10, 64)
		if err != nil {
			return &usageError{fmt.Sprintf("%q is no number of a wear: take it from its address", rest[1])}
		}
		w, err := from.Wear(ctx, id)
		if err != nil {
			return err
		}
		data, err := w.Write(*format)
		if err != nil {
			return err
		}
		b.Write(data)
		patient, what = w.Patient.ID, fmt.Sprintf("wear %d, %s", w.ID, *format)
	case "person":
		p, err := d.PatientByCode(ctx, rest[1])
		if err != nil {
			return err
		}
		if err := from.Person(ctx, p.ID, &b); err != nil {
			return err
		}
		patient, what = p.ID, "all that is held"
	default:
		if err := from.Practice(ctx, &b); err != nil {
			return err
		}
	}
	if err := d.RecordExport(ctx, patient, what); err != nil { // before it leaves
		return err
	}
	if *out == "" {
		_, err := stdout.Write(b.Bytes())
		return err
	}
	if _, err := os.Lstat(*out); err == nil {
		return fmt.Errorf("%s is there already: give the file another name", *out)
	}
	return writeNew(*out, b.Bytes())
}
