package store

import (
	"os"
	"sync"
)

// flusher brings what was committed to a SQLite file onto the disk. The writer commits without waiting for that
// (synchronous NORMAL), so that the next writer need not wait either; each then waits here until the log is
// flushed, and all that come while one flush runs share the next. SQLite itself flushes the log before it is
// carried over into the file, so a power cut loses at most what nobody was told is saved.
type flusher struct {
	name string // of the log

	flushing sync.Mutex // held by the one that flushes; it guards file
	file     *os.File

	mu   sync.Mutex
	next *turn // has not begun; nil: nobody waits for one
}

// turn is one flush, which several wait for.
type turn struct {
	over chan struct{}
	err  error
}

// wait returns when everything that was committed before it was called is on the disk.
func (f *flusher) wait() error {
	f.mu.Lock()
	mine, first := f.next, f.next == nil
	if first {
		mine = &turn{over: make(chan struct{})}
		f.next = mine
	}
	f.mu.Unlock()
	if !first {
		<-mine.over
		return mine.err
	}
	f.flushing.Lock()
	defer f.flushing.Unlock()
	f.mu.Lock()
	f.next = nil
	f.mu.Unlock()
	defer close(mine.over)
	if mine.err = f.open(); mine.err == nil {
		mine.err = f.file.Sync()
	}
	return mine.err
}

// open makes sure that file is the log that is in use: SQLite makes a new one after the last connection closed.
func (f *flusher) open() error {
	now, err := os.Stat(f.name)
	if err != nil {
		return err
	}
	if f.file != nil {
		if have, err := f.file.Stat(); err == nil && os.SameFile(have, now) {
			return nil
		}
		f.file.Close() // of a log that is gone
	}
	f.file, err = os.OpenFile(f.name, os.O_RDWR, 0)
	return err
}

func (f *flusher) close() error {
	f.flushing.Lock()
	defer f.flushing.Unlock()
	if f.file == nil {
		return nil
	}
	return f.file.Close()
}
