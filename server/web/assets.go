package web

import (
	"bytes"
	"compress/gzip"
	"crypto/sha256"
	"embed"
	"encoding/hex"
	"io/fs"
	"mime"
	"net/http"
	"path"
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
	byPath map[string]asset
}

type asset struct {
	kind  string
	plain []byte
	zip   []byte
}

func loadAssets() (*assets, error) {
	a := &assets{map[string]string{}, map[string]asset{}}
	err := fs.WalkDir(staticFiles, "static", func(file string, entry fs.DirEntry, err error) error {
		if err != nil || entry.IsDir() {
			return err
		}
		data, err := staticFiles.ReadFile(file)
		if err != nil {
			return err
		}
		name := strings.TrimPrefix(file, "static/")
		sum := sha256.Sum256(data)
		address := "/static/" + hex.EncodeToString(sum[:4]) + "/" + name
		var zipped bytes.Buffer
		zipper, err := gzip.NewWriterLevel(&zipped, gzip.BestCompression)
		if err != nil {
			return err
		}
		if _, err := zipper.Write(data); err != nil {
			return err
		}
		if err := zipper.Close(); err != nil {
			return err
		}
		a.byName[name] = address
		a.byPath[address] = asset{mime.TypeByExtension(path.Ext(name)), data, zipped.Bytes()}
		return nil
	})
	return a, err
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
