package worker

import (
	"context"
	"io/fs"
	"os"
	"path/filepath"
	"strings"

	"github.com/fsnotify/fsnotify"
)

// watch turns change events of the operating system into hints. Network shares
// send none, and a watcher may fail to start or overflow; nothing depends on
// it, so a fault is counted and logged and no more.
func (w *Worker) watch(ctx context.Context) {
	n, err := fsnotify.NewWatcher()
	if err != nil {
		w.Metrics.watchErrors.Inc()
		w.Log.Warn("no change events; the folder is still looked at regularly", "err", pathless(err))
		return
	}
	defer n.Close()
	w.watchAll(n)
	w.Look() // a file may have come before the watch was set
	for {
		select {
		case <-ctx.Done():
			return
		case e, ok := <-n.Events:
			if !ok {
				return
			}
			if e.Has(fsnotify.Create) {
				if info, err := os.Lstat(e.Name); err == nil && info.IsDir() {
					w.watchAll(n)
				}
			}
			if name, err := filepath.Rel(w.Drop, e.Name); err == nil {
				w.folder.told(filepath.ToSlash(name))
			}
			w.Look()
		case err, ok := <-n.Errors:
			if !ok {
				return
			}
			w.Metrics.watchErrors.Inc()
			w.Log.Warn("change event lost", "err", pathless(err))
			w.Look()
		}
	}
}

// watchAll adds the folder and its sub-folders; adding one twice does nothing.
func (w *Worker) watchAll(n *fsnotify.Watcher) {
	_ = filepath.WalkDir(w.Drop, func(name string, d fs.DirEntry, err error) error {
		if err != nil || !d.IsDir() {
			return nil
		}
		if rel, _ := filepath.Rel(w.Drop, name); strings.Count(rel, string(filepath.Separator)) >= maxDepth {
			return fs.SkipDir
		}
		if err := n.Add(name); err != nil {
			w.Metrics.watchErrors.Inc()
		}
		return nil
	})
}
