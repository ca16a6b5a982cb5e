// Package web is what people see: the page structs that a server fills in,
// the templates that show them, the stylesheet and small scripts: live.js keeps
// an open page true, session.js minds what depends on time and keeps what was
// typed, tracks.js, sheet.js and words.js are for one page each.
//
// Start with the page structs ([RoundPage], [WearPage], [FilesPage],
// [AboutPage], [ErrorPage]) and [Render]. [Assets] serves the files that the
// pages name. The package opens no database and reads no clock: everything a
// page says is in its struct, so each page can be shown in a test.
//
// # Guarantees
//
// A page is made whole before its first byte is written. No page carries a
// script, a style or a style attribute of its own, so a content security
// policy without 'unsafe-inline' holds. No page names another host.
package web
