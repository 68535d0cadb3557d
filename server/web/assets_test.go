package web

import (
	"log/slog"
	"net/http/httptest"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"leground/tracker/care"
)

// The files of older builds are answered for 30 days, so that a page that a phone kept is not without its
// style; then they go. A file that never was is a 404 that nobody keeps.
func TestFilesOfOlderBuilds(t *testing.T) {
	folder, now := t.TempDir(), time.Date(2026, 5, 14, 12, 0, 0, 0, time.UTC)
	for name, days := range map[string]int{"0a0a0a0a/old.css": 29, "0b0b0b0b/older.css": 31} {
		at := filepath.Join(folder, name)
		if err := os.MkdirAll(filepath.Dir(at), 0o755); err != nil {
			t.Fatal(err)
		}
		if err := os.WriteFile(at, []byte("/* "+name+" */"), 0o644); err != nil {
			t.Fatal(err)
		}
		if err := os.Chtimes(at, now, now.AddDate(0, 0, -days)); err != nil {
			t.Fatal(err)
		}
	}
	h := newHandler(t)
	if err := h.assets.keep(folder, now); err != nil {
		t.Fatal(err)
	}
	style := h.assets.byName["leground.css"]
	for path, want := range map[string]int{"/static/0a0a0a0a/old.css": 200, "/static/0b0b0b0b/older.css": 404, style: 200, "/static/00000000/leground.css": 404} {
		answer := httptest.NewRecorder()
		h.Router().ServeHTTP(answer, httptest.NewRequest("GET", path, nil))
		if answer.Code != want {
			t.Errorf("%s answers %d, want %d", path, answer.Code, want)
		}
		kept := strings.Contains(answer.Header().Get("Cache-Control"), "immutable")
		if kept != (want == 200) {
			t.Errorf("%s: Cache-Control is %q", path, answer.Header().Get("Cache-Control"))
		}
	}
	if _, err := os.Stat(filepath.Join(folder, strings.TrimPrefix(style, "/static/"))); err != nil {
		t.Error("this build's style sheet was not written for the builds after it:", err)
	}
	if _, err := os.Stat(filepath.Join(folder, "0b0b0b0b/older.css")); !os.IsNotExist(err) {
		t.Error("a file that no build had for 31 days is still there")
	}
}

func newHandler(t *testing.T) *Handler {
	t.Helper()
	h, err := New(care.New(nil, func() time.Time { return time.Date(2026, 5, 14, 12, 0, 0, 0, time.UTC) }), Settings{Log: quiet()})
	if err != nil {
		t.Fatal(err)
	}
	return h
}

// All scripts together are at most 20 KiB over the wire, the round's at most 10, the style sheet 20.
func TestWeightOfScripts(t *testing.T) {
	h, total := newHandler(t), 0
	for name, path := range h.assets.byName {
		file := h.assets.byPath[path]
		size := min(len(file.zip), len(file.plain))
		switch filepath.Ext(name) {
		case ".js":
			t.Logf("%s: %d bytes", name, size)
			total += size
		case ".css":
			if size > 20<<10 {
				t.Errorf("%s has %d bytes over the wire, at most %d", name, size, 20<<10)
			}
		}
		if name == "round.js" && size > 10<<10 {
			t.Errorf("the round's script has %d bytes over the wire, at most %d", size, 10<<10)
		}
	}
	t.Logf("all scripts: %d bytes", total)
	if total > 20<<10 {
		t.Errorf("all scripts have %d bytes over the wire, at most %d", total, 20<<10)
	}
}

// The worker names every file of its build, and the one that removes itself names none that it keeps.
func TestWorkers(t *testing.T) {
	h := newHandler(t)
	worker := func() string {
		answer := httptest.NewRecorder()
		h.Router().ServeHTTP(answer, httptest.NewRequest("GET", "/sw.js", nil))
		return answer.Body.String()
	}
	for name, path := range h.assets.byName {
		if listed := strings.Contains(worker(), `"`+path+`"`); listed == (name == workerFile || name == removeFile) {
			t.Errorf("%s in the list of the build: %v", path, listed)
		}
	}
	h.settings.NoCopy = true
	if text := worker(); !strings.Contains(text, "registration.unregister") || strings.Contains(text, "importScripts") {
		t.Error("with the copy off, the worker that removes itself is not sent")
	}
}

func quiet() *slog.Logger { return slog.New(slog.DiscardHandler) }
