package web

import (
	"bytes"
	"compress/gzip"
	"crypto/sha256"
	"embed"
	"encoding/hex"
	"fmt"
	"io/fs"
	"net/http"
	"os"
	"path"
	"path/filepath"
	"strings"
	"time"

	"github.com/go-chi/chi/v5"
)

//go:embed static
var staticFiles embed.FS

// assets are the built-in files, each under a path that holds a hash of its content, so that it may be
// kept for ever by who fetched it.
type assets struct {
	byName map[string]string // "leground.css" -> "/static/1a2b3c4d/leground.css"
	byPath map[string]asset  // of this build, and of older ones that phones may still ask for
	build  string            // names everything that is built in, the templates too
}

type asset struct {
	kind  string
	plain []byte
	zip   []byte
}

func loadAssets() (*assets, error) {
	a := &assets{byName: map[string]string{}, byPath: map[string]asset{}}
	whole := sha256.New()
	for _, from := range []embed.FS{staticFiles, templateFiles} {
		err := fs.WalkDir(from, ".", func(file string, entry fs.DirEntry, err error) error {
			if err != nil || entry.IsDir() {
				return err
			}
			data, err := from.ReadFile(file)
			if err != nil {
				return err
			}
			fmt.Fprintf(whole, "%s %d\n%s", file, len(data), data)
			if name, isAsset := strings.CutPrefix(file, "static/"); isAsset {
				data = lean(name, data)
				sum := sha256.Sum256(data)
				a.byName[name] = "/static/" + hex.EncodeToString(sum[:4]) + "/" + name
				a.byPath[a.byName[name]], err = newAsset(name, data)
			}
			return err
		})
		if err != nil {
			return nil, err
		}
	}
	a.build = hex.EncodeToString(whole.Sum(nil)[:6])
	return a, nil
}

// lean leaves comments and indentation out of a script. Our scripts have no text that runs over lines, and what
// follows " // " on a line is a comment when no quotation mark is in it.
func lean(name string, data []byte) []byte {
	if path.Ext(name) != ".js" {
		return data
	}
	var out []byte
	for line := range bytes.Lines(data) {
		if line = bytes.TrimSpace(line); len(line) > 0 && !bytes.HasPrefix(line, []byte("//")) {
			if at := bytes.LastIndex(line, []byte(" // ")); at > 0 && !bytes.ContainsAny(line[at:], "'`\"") {
				line = line[:at]
			}
			out = append(append(out, line...), '\n')
		}
	}
	return out
}

// newAsset makes a file ready to be sent.
func newAsset(name string, data []byte) (asset, error) {
	var zipped bytes.Buffer
	zipper, err := gzip.NewWriterLevel(&zipped, gzip.BestCompression)
	if err != nil {
		return asset{}, err
	}
	if _, err := zipper.Write(data); err != nil {
		return asset{}, err
	}
	err = zipper.Close()
	return asset{kindOf(name), data, zipped.Bytes()}, err
}

// kindOf gives the content type of a built-in file. It does not ask the machine, whose list may be odd.
func kindOf(name string) string {
	switch path.Ext(name) {
	case ".css":
		return "text/css; charset=utf-8"
	case ".js":
		return "text/javascript; charset=utf-8"
	case ".svg":
		return "image/svg+xml"
	case ".png":
		return "image/png"
	}
	return "application/octet-stream"
}

// keptFor is how long the files of older builds are still answered: a phone may hold a page that wants them.
const keptFor = 30 * 24 * time.Hour

// keep writes this build's files into a folder and takes in those of builds that ran there in the last 30
// days. The time of a file is when a build last had it.
func (a *assets) keep(folder string, now time.Time) error {
	for address, file := range a.byPath {
		at := filepath.Join(folder, filepath.FromSlash(strings.TrimPrefix(address, "/static/")))
		if err := os.MkdirAll(filepath.Dir(at), 0o755); err != nil {
			return err
		}
		if err := os.WriteFile(at, file.plain, 0o644); err != nil {
			return err
		}
		if err := os.Chtimes(at, now, now); err != nil {
			return err
		}
	}
	return filepath.WalkDir(folder, func(at string, entry fs.DirEntry, err error) error {
		if err != nil || entry.IsDir() {
			return err
		}
		info, err := entry.Info()
		if err != nil {
			return err
		}
		if now.Sub(info.ModTime()) > keptFor {
			return os.Remove(at)
		}
		below, err := filepath.Rel(folder, at)
		if err != nil {
			return err
		}
		address := "/static/" + filepath.ToSlash(below)
		if _, ours := a.byPath[address]; ours {
			return nil
		}
		data, err := os.ReadFile(at)
		if err == nil {
			a.byPath[address], err = newAsset(at, data)
		}
		return err
	})
}

// asset sends one built-in file. One that is not there is a 404 that nobody keeps.
func (h *Handler) asset(w http.ResponseWriter, r *http.Request) error {
	file, ok := h.assets.byPath["/static/"+chi.URLParam(r, "hash")+"/"+chi.URLParam(r, "*")]
	if !ok {
		return errNoPage
	}
	head := w.Header()
	head.Set("Cache-Control", "public, max-age=31536000, immutable")
	head.Set("Content-Type", file.kind)
	head.Set("Vary", "Accept-Encoding")
	data := file.plain
	if strings.Contains(r.Header.Get("Accept-Encoding"), "gzip") && len(file.zip) < len(file.plain) {
		head.Set("Content-Encoding", "gzip")
		data = file.zip
	}
	http.ServeContent(w, r, "", time.Time{}, bytes.NewReader(data))
	return nil
}
