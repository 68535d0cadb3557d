package server

import (
	"context"
	"time"

	"leground/tracker/store"
)

// Backup copies a yard's SQLite records into one new file, also while a server has them open, and reads
// the copy back.
func Backup(ctx context.Context, data, file string) error { return store.Backup(ctx, data, file) }

// NoteBackup notes when a good copy of the records was made, for the metrics.
func NoteBackup(ctx context.Context, data string, at time.Time) error {
	return store.NoteBackup(ctx, data, at)
}

// Restore checks a copy and puts it into a folder that has no records yet.
func Restore(ctx context.Context, file, data string) error { return store.Restore(ctx, file, data) }
