package storetest

import (
	"bytes"
	"errors"
	"testing"
	"time"

	"leground/tracker"
	"leground/tracker/care"
)

func photo(p Place, site tracker.SiteID, after time.Duration) tracker.Photo {
	return tracker.Photo{
		ID: tracker.PhotoID(NewID()), Check: newRecord(), Horse: p.Bramble.ID, Leg: tracker.RH, Site: site, At: noon.Add(after), By: p.Ada.ID,
		Width: 1600, Height: 1200, ThumbW: 320, ThumbH: 240, SHA256: "aa", Posted: "bb",
	}
}

func testPhotos(t *testing.T, h *House) {
	full := photo(h.Mine, h.Mine.Wound.ID, 0)
	wantFilled(t, full, "Tick")
	older, leg, patch := photo(h.Mine, h.Mine.Wound.ID, -time.Hour), photo(h.Mine, "", time.Hour), photo(h.Mine, h.Mine.Patch.ID, time.Minute)
	bytesOf := map[bool][]byte{false: {0xff, 0xd8, 0, 1, 2, '\'', 0xff, 0xd9}, true: {0xff, 0xd8, 3, 0xff, 0xd9}}
	h.write(t, h.Mine, func(tx care.Tx) error {
		for _, p := range []tracker.Photo{full, older, leg, patch} {
			must(t, tx.AddPhoto(p, bytesOf[false], bytesOf[true]))
		}
		return nil
	})
	h.read(t, h.Mine, func(tx care.Tx) error {
		got, err := tx.Photo(full.ID)
		must(t, err)
		same(t, "a photo", got, full)
		for thumb, want := range bytesOf {
			data, err := tx.PhotoBytes(full.ID, thumb)
			must(t, err)
			if !bytes.Equal(data, want) {
				t.Errorf("bytes of a photo (thumbnail %v): %x, want %x", thumb, data, want)
			}
		}
		list, err := tx.PhotosOfSite(h.Mine.Wound.ID)
		must(t, err)
		same(t, "a site's photos, oldest first", list, []tracker.Photo{older, full})
		list, err = tx.PhotosBetween(h.Mine.Bramble.ID, older.At, patch.At)
		must(t, err)
		same(t, "a horse's photos of a span", list, []tracker.Photo{older, full})
		for _, horse := range []tracker.HorseID{"", h.Mine.Bramble.ID} {
			last, err := tx.LastPhotos(horse)
			must(t, err)
			same(t, "each site's newest photo", last, map[tracker.SiteID]tracker.Photo{full.Site: full, patch.Site: patch})
		}
		none, err := tx.LastPhotos(h.Mine.Tom.ID)
		must(t, err)
		same(t, "photos of a horse without any", none, map[tracker.SiteID]tracker.Photo{})
		_, err = tx.Photo(tracker.PhotoID(NewID()))
		wantKind(t, "an unknown photo", err, tracker.NotFound)
		_, err = tx.PhotoBytes(tracker.PhotoID(NewID()), true)
		wantKind(t, "bytes of an unknown photo", err, tracker.NotFound)
		return nil
	})
}

// event is an event of the wound, some days from today.
func event(p Place, kind tracker.EventKind, days int) tracker.Event {
	return tracker.Event{ID: newRecord(), Kind: kind, Horse: p.Bramble.ID, Leg: tracker.RH, Site: p.Wound.ID, Day: today + tracker.Date(days),
		At: noon.AddDate(0, 0, days), By: p.Ada.ID, Note: "by the vet", Hash: "hash"}
}

func (h *House) addEvents(t testing.TB, p Place, events ...tracker.Event) {
	t.Helper()
	h.write(t, p, func(tx care.Tx) error {
		for _, e := range events {
			if err := tx.AddEvent(e); err != nil {
				return err
			}
		}
		return nil
	})
}

func testEvents(t *testing.T, h *House) {
	full := event(h.Mine, tracker.Debridement, 0)
	wantFilled(t, full, "Tick")
	visit := tracker.Event{ID: newRecord(), Kind: tracker.VetVisit, Horse: h.Mine.Tom.ID, Day: today - 1, At: noon.AddDate(0, 0, -1), By: h.Mine.Bea.ID}
	h.addEvents(t, h.Mine, full, visit)
	h.read(t, h.Mine, func(tx care.Tx) error {
		for _, c := range []struct {
			horse tracker.HorseID
			from  tracker.Date
			want  []tracker.Event
		}{
			{"", today - 1, []tracker.Event{visit, full}}, {"", today, []tracker.Event{full}}, {h.Mine.Tom.ID, today - 9, []tracker.Event{visit}}, {h.Mine.Juni.ID, 1, nil},
		} {
			got, err := tx.Events(c.horse, c.from)
			must(t, err)
			same(t, "events of "+string(c.horse)+" from "+c.from.String(), got, c.want)
		}
		got, err := tx.EventByRecord(visit.ID)
		same(t, "an event by its form", got, visit)
		must(t, err)
		_, err = tx.EventByRecord(newRecord())
		wantKind(t, "an unknown event", err, tracker.NotFound)
		return nil
	})
	tick := tickOff(h.Mine, tracker.TickDone, 0, "", 0)
	said := visit
	said.ID, said.Tick = newRecord(), tick.ID
	undo := tickOff(h.Mine, tracker.TickUndone, 0, "", time.Minute)
	undo.Of = tick.ID
	for _, c := range []struct {
		of   string
		add  func(tx care.Tx) error
		want []tracker.Event
	}{
		{"a tick", func(tx care.Tx) error { return errors.Join(tx.AddTickOff(tick), tx.AddEvent(said)) }, []tracker.Event{visit, said}},
		{"a tick that was taken back", func(tx care.Tx) error { return tx.AddTickOff(undo) }, []tracker.Event{visit}},
	} {
		h.write(t, h.Mine, c.add)
		h.read(t, h.Mine, func(tx care.Tx) error {
			got, err := tx.Events(h.Mine.Tom.ID, today-9)
			must(t, err)
			same(t, "events of "+c.of, got, c.want)
			return nil
		})
	}
}

// testResets holds the list of kinds in the SQL against tracker.EventKind.Resets.
func testResets(t *testing.T, h *House) {
	reset := func(site tracker.Site, upTo tracker.Date) (day tracker.Date) {
		h.read(t, h.Mine, func(tx care.Tx) (err error) { day, err = tx.LastReset(site, upTo); return err })
		return day
	}
	same(t, "the reset of a site without events", reset(h.Mine.Wound, today), tracker.Date(0))
	day := today - 100
	last := tracker.Date(0)
	for _, kind := range []tracker.EventKind{
		tracker.Debridement, tracker.TreatmentChange, tracker.Clipping, tracker.BandageOn, tracker.CrustsRemoved, tracker.BandageOff, tracker.NewInjury,
		tracker.KindChange, tracker.MethodChange, tracker.Joined, tracker.SoakStarted, tracker.Reopened, tracker.VetVisit, tracker.FarrierVisit,
	} {
		day++
		e := event(h.Mine, kind, int(day-today))
		h.addEvents(t, h.Mine, e)
		if kind.Resets() {
			last = day
		}
		same(t, "the newest reset after "+string(kind), reset(h.Mine.Wound, today), last)
		same(t, "the reset of the other site after "+string(kind), reset(h.Mine.Patch, today), tracker.Date(0))
	}
	joined := event(h.Mine, tracker.Joined, 0)
	joined.Site, joined.Note = h.Mine.Patch.ID, string(h.Mine.Wound.ID)
	h.addEvents(t, h.Mine, joined)
	same(t, "the reset of a site that another has joined", reset(h.Mine.Wound, today), today)
	same(t, "the reset of the site that joined it", reset(h.Mine.Patch, today), tracker.Date(0))
	leg, horse, other := event(h.Mine, tracker.Clipping, -3), event(h.Mine, tracker.Clipping, -2), event(h.Mine, tracker.Clipping, -1)
	leg.Site, horse.Site, horse.Leg, other.Site, other.Leg = "", "", 0, "", tracker.LF
	h.addEvents(t, h.Mine, leg)
	same(t, "the reset of the whole leg", reset(h.Mine.Patch, today), today-3)
	h.addEvents(t, h.Mine, horse, other)
	same(t, "the reset of the whole horse, and not of another leg", reset(h.Mine.Patch, today), today-2)
	same(t, "the reset up to an earlier day", reset(h.Mine.Wound, today-3), today-3)
	same(t, "the reset up to a day before the leg's", reset(h.Mine.Wound, today-4), last)
	if err := h.DB.Write(t.Context(), h.Mine.Yard.ID, func(tx care.Tx) error { return tx.AddEvent(event(h.Mine, "a party", 0)) }); err == nil {
		t.Error("an event of an unknown kind was kept")
	}
}
