package rounds

import (
	"archive/zip"
	"bytes"
	"io"
	"io/fs"
	"os"
	"os/exec"
	"path/filepath"
	"slices"
	"strconv"
	"strings"
	"testing"
	"time"
)

// zoneFile is one zone as data, from Go's own copy of the IANA data or from the system's.
type zoneFile struct {
	name string
	path string // empty for Go's copy
	zone *time.Location
}

const systemZones = "/usr/share/zoneinfo"

// goZones reads the list that time/tzdata embeds. Go keeps it as a zip file beside its library.
func goZones(t testing.TB) []zoneFile {
	t.Helper()
	root, err := exec.Command("go", "env", "GOROOT").Output()
	if err != nil {
		t.Fatalf("go env GOROOT: %v", err)
	}
	archive, err := zip.OpenReader(filepath.Join(strings.TrimSpace(string(root)), "lib/time/zoneinfo.zip"))
	if err != nil {
		t.Fatal(err)
	}
	defer archive.Close()
	var all []zoneFile
	for _, f := range archive.File {
		if f.FileInfo().IsDir() {
			continue
		}
		r, err := f.Open()
		if err != nil {
			t.Fatal(err)
		}
		data, err := io.ReadAll(r)
		if err != nil {
			t.Fatal(err)
		}
		z, err := time.LoadLocationFromTZData(f.Name, data)
		if err != nil {
			t.Fatalf("%s: %v", f.Name, err)
		}
		if _, err := time.LoadLocation(f.Name); err != nil {
			t.Errorf("a machine without zone files would not know %s: %v", f.Name, err)
		}
		all = append(all, zoneFile{name: "go:" + f.Name, zone: z})
	}
	return all
}

// osZones walks the system's zone files, or gives none where there are none. The folder right counts
// leap seconds, which no wall clock does, and posix repeats the others.
func osZones(t testing.TB) []zoneFile {
	t.Helper()
	var all []zoneFile
	err := filepath.WalkDir(systemZones, func(path string, entry fs.DirEntry, err error) error {
		if err != nil || entry.IsDir() {
			if err == nil && (entry.Name() == "right" || entry.Name() == "posix") {
				return fs.SkipDir
			}
			return err
		}
		data, err := os.ReadFile(path)
		if err != nil || !bytes.HasPrefix(data, []byte("TZif")) {
			return err
		}
		z, err := time.LoadLocationFromTZData(path, data)
		if err != nil {
			return err
		}
		all = append(all, zoneFile{"system:" + strings.TrimPrefix(path, systemZones+"/"), path, z})
		return nil
	})
	if err != nil && !os.IsNotExist(err) {
		t.Fatal(err)
	}
	return all
}

var (
	firstInstant = time.Date(1999, 12, 30, 0, 0, 0, 0, time.UTC)
	lastInstant  = time.Date(2046, 1, 3, 0, 0, 0, 0, time.UTC)
)

// changes gives the instants at which the zone's clock is put forward or back in 2000 to 2045. Since
// Time.ZoneBounds may give a wrong end near the end of a leap year, a day without a usable end is
// stepped over and counts as a change if the offset differs after it.
func changes(z *time.Location) []time.Time {
	var all []time.Time
	for at := firstInstant; ; {
		_, next := at.In(z).ZoneBounds()
		if next.IsZero() || next.After(lastInstant) {
			return all
		}
		if !next.After(at) {
			next = at.Add(24 * time.Hour)
		}
		if offset(next, z) != offset(at, z) {
			all = append(all, next)
		}
		at = next
	}
}

// distinctZones gives one zone for each behaviour in 2000 to 2045, from both sources.
func distinctZones(t testing.TB) []zoneFile {
	t.Helper()
	seen := map[string]bool{}
	var all []zoneFile
	for _, z := range slices.Concat(goZones(t), osZones(t)) {
		var behaviour strings.Builder
		behaviour.WriteString(offset(firstInstant, z.zone).String())
		for _, at := range changes(z.zone) {
			behaviour.WriteString(" " + strconv.FormatInt(at.Unix(), 10) + offset(at, z.zone).String())
		}
		if !seen[behaviour.String()] {
			seen[behaviour.String()] = true
			all = append(all, z)
		}
	}
	return all
}
