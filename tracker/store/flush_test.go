package store

import (
	"errors"
	"io/fs"
	"os"
	"path/filepath"
	"sync"
	"testing"
	"time"
)

// Whoever waits while a flush runs gets one that began after they came, together with all others who did.
func TestFlushIsShared(t *testing.T) {
	name := filepath.Join(t.TempDir(), "log")
	if err := os.WriteFile(name, []byte("x"), 0o600); err != nil {
		t.Fatal(err)
	}
	f := &flusher{name: name}
	f.flushing.Lock() // a flush is running
	var all sync.WaitGroup
	for range 50 {
		all.Go(func() {
			if err := f.wait(); err != nil {
				t.Error(err)
			}
		})
	}
	waiting := func() *turn { f.mu.Lock(); defer f.mu.Unlock(); return f.next }
	for waiting() == nil {
		time.Sleep(time.Millisecond)
	}
	f.flushing.Unlock()
	all.Wait()
	if f.next != nil || f.file == nil {
		t.Error("a flush is left over, or none was made")
	}
	if err := f.close(); err != nil {
		t.Error(err)
	}
}

// SQLite makes a new log after its last connection closed: the old one is flushed no more. A log that is missing
// is a failure, and everybody who waits is told.
func TestFlushFindsTheLogInUse(t *testing.T) {
	name := filepath.Join(t.TempDir(), "log")
	f := &flusher{name: name}
	if err := f.wait(); !errors.Is(err, fs.ErrNotExist) {
		t.Errorf("no log: %v", err)
	}
	for range 2 {
		if err := os.WriteFile(name+".new", nil, 0o600); err != nil {
			t.Fatal(err)
		}
		if err := os.Rename(name+".new", name); err != nil {
			t.Fatal(err)
		}
		if err := f.wait(); err != nil {
			t.Fatal(err)
		}
		have, err := f.file.Stat()
		if err != nil {
			t.Fatal(err)
		}
		if now, err := os.Stat(name); err != nil || !os.SameFile(have, now) {
			t.Errorf("another file is flushed than the log: %v", err)
		}
	}
}
