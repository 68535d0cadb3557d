package web

import (
	"fmt"
	"net/http"
	"slices"
	"strconv"
	"time"

	"leground/tracker"
	"leground/tracker/care"
)

// siteEntry reads a site card.
func siteEntry(f *form) care.Entry {
	check := commonCheck(f)
	check.Subject = tracker.OfSite
	check.Site = tracker.SiteID(f.text("site"))
	if check.Outcome == tracker.Skipped {
		return entryOf(f, check)
	}
	check.Size = readSize(f)
	check.Bed = parsed(f, "bed", tracker.ParseBed)
	check.Scab, check.Clipped, check.Sedated = f.ticked("scab"), f.ticked("clipped"), f.ticked("sedated")
	check.Bandage = f.ticked("bandage") || check.Size.Answer == tracker.UnderBandage
	check.Hair = f.ticked("hair") || check.Size.Answer == tracker.HairHides
	check.SkinSeen = f.ticked("skin_seen") || check.Size.Answer.HasLengths()
	check.Signs = readSigns(f, append(append(tracker.ActiveSigns(), tracker.ChronicSigns()...), tracker.Thrush))
	if len(check.Signs) == 0 && !f.ticked("not_judged") {
		f.problems.Add("signs", "Score what you see, or say that you did not check.")
	}
	return entryOf(f, check)
}

// legEntry reads a leg line.
func legEntry(f *form) care.Entry {
	check := commonCheck(f)
	check.Subject = tracker.OfLeg
	check.Horse = tracker.HorseID(f.text("horse"))
	check.Leg = parsed(f, "leg", tracker.ParseLeg)
	if check.Leg == 0 && len(f.problems) == 0 {
		f.problems.Add("leg", "This form has lost its leg. Open the page again.")
	}
	if check.Outcome == tracker.Skipped {
		return entryOf(f, check)
	}
	check.Signs = readSigns(f, tracker.LegSigns())
	if f.ticked("clear") {
		for _, sign := range tracker.LegSigns() {
			if _, judged := check.Signs[sign]; !judged {
				check.Signs[sign] = clearLevel(sign)
			}
		}
	}
	for _, act := range tracker.CareActs() {
		if f.has("care", string(act)) {
			check.Care = append(check.Care, act)
		}
	}
	if len(check.Signs) == 0 && len(check.Care) == 0 && len(check.Dangers) == 0 && len(check.Flags) == 0 {
		f.problems.Add("signs", "Say what you found, or press: looked, nothing to note.")
	}
	return entryOf(f, check)
}

// clearLevel is what "looked, nothing to note" means for a sign of a leg. A digital pulse that is faint
// is what a sound leg has.
func clearLevel(sign tracker.Sign) int {
	if sign == tracker.Pulse {
		return 1
	}
	return 0
}

// commonCheck reads what every card and line has.
func commonCheck(f *form) tracker.Check {
	check := tracker.Check{
		ID: f.record(), Outcome: tracker.Looked, RoundDay: f.date("round_day", "The round's day"), Slot: f.text("slot"),
		DeviceAt: f.instant("at"), WrittenAt: f.local("written_at", "The time on the paper"), Looker: tracker.PersonID(f.text("looker")),
		Note: f.text("note"), Hash: f.hash(),
	}
	if f.values.Get("outcome") == tracker.Skipped.String() {
		check.Outcome, check.Skip = tracker.Skipped, f.text("skip")
	}
	for _, d := range tracker.SiteDangers() {
		if f.has("danger", string(d)) {
			check.Dangers = append(check.Dangers, d)
		}
	}
	for _, flag := range tracker.Flags() {
		if f.has("flag", string(flag)) {
			check.Flags = append(check.Flags, flag)
		}
	}
	return check
}

// readSize reads the size. Two lengths are a size by themselves; "both the same" takes those that the
// form showed.
func readSize(f *form) tracker.Size {
	size := tracker.Size{Answer: parsed(f, "size", tracker.ParseSizeAnswer), Method: tracker.Ruler}
	switch {
	case size.Answer != 0 && size.Answer != tracker.Measured && typedAnother(f, size.Answer):
		f.problems.Add("size", "A size is typed and another answer is chosen too. Clear the size, or choose that it is as typed.")
		size.LengthMM, size.WidthMM = f.whole("length", "Longest way", "mm"), f.whole("width", "Across that", "mm")
	case size.Answer == tracker.SameAsLast:
		size.LengthMM, size.WidthMM = f.whole("last_length", "The last length"), f.whole("last_width", "The last width")
	case size.Answer == 0 && (f.text("length") != "" || f.text("width") != ""), size.Answer == tracker.Measured:
		size.Answer = tracker.Measured
		size.LengthMM, size.WidthMM = f.whole("length", "Longest way", "mm"), f.whole("width", "Across that", "mm")
		if size.WidthMM > size.LengthMM && size.LengthMM > 0 {
			size.LengthMM, size.WidthMM = size.WidthMM, size.LengthMM // the longest way is the longer of the two
		}
	case size.Answer == 0 && f.ticked("size_not_due"):
		size.Answer = tracker.NotDue
	}
	size.DepthMM = f.whole("depth", "The depth", "mm")
	if above, below := f.whole("bed_above", "How far it stands above the skin", "mm"), f.whole("bed_below", "How far it lies below the skin", "mm"); above != 0 {
		size.BedMM = above
	} else {
		size.BedMM = -below
	}
	if size.AreaMM2 = f.scaled("area", "The traced area", 100); size.AreaMM2 != 0 {
		size.Method = tracker.Traced
		if !size.Answer.HasLengths() {
			f.problems.Add("area", "Give the longest way and the width across it too, beside the traced area.")
		}
	}
	if !size.Answer.HasLengths() {
		size.Method = 0
	}
	return size
}

// doubts asks about a length or a weight that is less than half or more than double the one that the form showed of
// last time. What cannot be is refused, not asked about.
func (f *form) doubts(check tracker.Check) tracker.Problems {
	var ask tracker.Problems
	doubt := func(name string, now int, unit string) {
		last, err := strconv.Atoi(f.text("last_" + name))
		if err == nil && last > 0 && (2*now < last || now > 2*last) {
			ask.Add(name, fmt.Sprintf("Last time %d %s, now %d %s. Is %d right? Tick below that it is, or change it.", last, unit, now, unit, now))
		}
	}
	if size := check.Size; size.Answer == tracker.Measured && min(size.LengthMM, size.WidthMM) >= 1 && size.LengthMM <= tracker.MaxLengthMM {
		doubt("length", size.LengthMM, "mm")
		doubt("width", size.WidthMM, "mm")
	}
	if kg := check.Vitals.WeightKG; kg > 0 {
		doubt("weight", kg, "kg")
	}
	return ask
}

// doubted is what a tick says to be right of what doubts asks about.
func doubted(check tracker.Check) string {
	if check.Subject == tracker.OfHorse {
		return fmt.Sprintf("%d kg", check.Vitals.WeightKG)
	}
	return lengths(check.Size)
}

func lengths(size tracker.Size) string { return fmt.Sprintf("%d x %d mm", size.LengthMM, size.WidthMM) }

// typedAnother tells whether a size stands beside an answer that says otherwise.
func typedAnother(f *form, answer tracker.SizeAnswer) bool {
	length, width := f.text("length"), f.text("width")
	if answer == tracker.SameAsLast && length == f.text("last_length") && width == f.text("last_width") {
		return false
	}
	return length != "" || width != ""
}

// readSigns reads the scores. "All the same as last time" takes those that the form showed; a score
// that was chosen wins over it.
func readSigns(f *form, signs []tracker.Sign) tracker.Signs {
	out := tracker.Signs{}
	for _, sign := range signs {
		name := string(sign)
		switch {
		case f.text(name) != "":
			out[sign] = f.whole(name, tracker.SignName(sign))
		case f.ticked("same") && f.text("last."+name) != "":
			out[sign] = f.whole("last."+name, tracker.SignName(sign))
		}
	}
	return out
}

func entryOf(f *form, check tracker.Check) care.Entry {
	return care.Entry{Check: check, Corrects: tracker.RecordID(f.text("corrects"))}
}

// receipt is the answer to the round's script: this record, with this content, is kept in the yard.
type receipt struct {
	Record   tracker.RecordID `json:"record"`
	Hash     string           `json:"hash"`
	State    string           `json:"state"` // "kept", or "again" when it was here before
	At       time.Time        `json:"at"`
	ClockOff float64          `json:"clock_off_seconds,omitempty"`
	Cautions []receiptCaution `json:"cautions,omitempty"`
	Also     string           `json:"also,omitempty"`    // somebody else looked at the same in this round
	Twice    string           `json:"twice,omitempty"`   // and ticked the same care
	Compare  string           `json:"compare,omitempty"` // page of the other look
}

type receiptCaution struct {
	Level string `json:"level"`
	Words string `json:"words"`
	Seen  string `json:"seen"`
}

func receiptFor(saved care.Saved) receipt {
	out := receipt{Record: saved.Check.ID, Hash: saved.Check.Hash, State: "kept", At: saved.Check.At, ClockOff: saved.Check.ClockOff.Seconds()}
	if saved.Again {
		out.State = "again"
	}
	for _, c := range saved.Raised {
		out.Cautions = append(out.Cautions, receiptCaution{c.Level.String(), tracker.LevelName(c.Level), c.Seen})
	}
	return out
}

// entry reads a look with what its phone says about its clock, its photo, and what is wrong with it.
func (h *Handler) entry(r *http.Request, f *form, read func(*form) care.Entry) (entry care.Entry, err error) {
	entry = read(f)
	entry.SentAt = sentAt(r)
	if age, err := strconv.ParseInt(r.Header.Get("Leground-Age"), 10, 64); err == nil {
		entry.Age = time.Duration(age) * time.Millisecond
	}
	entry.Photo, err = h.readPhoto(r, f)
	wrong := entry.Problems()
	if len(f.problems) > 0 { // what could not be read is not empty
		wrong = slices.DeleteFunc(wrong, func(p tracker.FieldProblem) bool { return p.Field == "whole" })
	}
	f.also(wrong)
	return entry, err
}

// pressedAt is when something was done, by the yard's clock; the zero time when the form came without a phone's.
func (h *Handler) pressedAt(r *http.Request, f *form) time.Time {
	at := f.instant("at")
	if sent := sentAt(r); !sent.IsZero() && !at.IsZero() {
		at = at.Add(h.care.Now().Sub(sent))
	}
	return at
}

// sentAt is when a phone sent a form, by its own clock; the zero time when it does not say.
func sentAt(r *http.Request) time.Time {
	t, err := time.Parse(time.RFC3339Nano, r.Header.Get("Leground-Sent"))
	if err != nil {
		return time.Time{}
	}
	return t
}

// saving keeps a look that a form is read into.
func (h *Handler) saving(read func(*form) care.Entry) answer {
	return h.posted(func(w http.ResponseWriter, r *http.Request, f *form) error { return h.save(w, r, f, read) })
}

func (h *Handler) save(w http.ResponseWriter, r *http.Request, f *form, read func(*form) care.Entry) error {
	if err := h.setZone(r, f); err != nil {
		return err
	}
	entry, err := h.entry(r, f, read)
	if err != nil {
		return err
	}
	err = f.problems.Err()
	if ask := f.doubts(entry.Check); len(ask) > 0 && !f.has("sure", doubted(entry.Check)) && !wantsJSON(r) { // the round's script asks by itself
		if hasPhoto(r) {
			ask.Add("photo", "The photo does not come back with the form. Take it again.")
		}
		again := h.cardAgain(w, r, f, entry.Check, append(f.problems, ask...).Err())
		if err != nil || tracker.KindOf(again) != tracker.Invalid {
			return again
		}
		// The site has no card any more to ask on: what was seen is kept as it came.
	}
	var saved care.Saved
	if err == nil {
		saved, err = h.care.Record(r.Context(), actorOf(r), entry)
	}
	switch {
	case err == nil && wantsJSON(r):
		out := receiptFor(saved)
		if err := h.beside(r, &out, saved.Beside); err != nil {
			return err
		}
		writeJSON(w, http.StatusOK, out)
	case err == nil:
		to := "/round?saved=" + string(saved.Check.ID)
		if back := f.text("back"); back != "" {
			to = localPath(back)
		}
		if next := f.text("next"); next != "" && f.text("back") == "" {
			to += "#" + next
		}
		http.Redirect(w, r, to, http.StatusSeeOther)
	case tracker.KindOf(err) == tracker.Invalid && !wantsJSON(r):
		return h.cardAgain(w, r, f, entry.Check, err)
	default:
		return err
	}
	return nil
}

// setZone gives the form the yard's zone when a local time was typed into it.
func (h *Handler) setZone(r *http.Request, f *form) error {
	if f.text("written_at") == "" {
		return nil
	}
	yard, err := h.care.Yard(r.Context(), actorOf(r))
	f.zone = yard.Zone
	return err
}

// hasPhoto tells whether a photo comes with a form.
func hasPhoto(r *http.Request) bool {
	return r.MultipartForm != nil && len(r.MultipartForm.File["photo"]) > 0 && r.MultipartForm.File["photo"][0].Size > 0
}

// readPhoto makes a photo that came with a form ready; a form without one gives nil.
func (h *Handler) readPhoto(r *http.Request, f *form) (*care.NewPhoto, error) {
	if !hasPhoto(r) {
		return nil, nil
	}
	file, err := r.MultipartForm.File["photo"][0].Open()
	if err != nil {
		return nil, err
	}
	defer file.Close()
	ready, err := h.desk.Prepare(r.Context(), file)
	if err != nil && tracker.KindOf(err) == 0 {
		return nil, err // not about the photo: nobody waits for the answer any more
	}
	if err != nil {
		f.problems.Add("photo", err.Error())
		return nil, nil
	}
	id := f.text("photo_id")
	if !tracker.ValidID(id) {
		f.problems.Add("photo", "This form has lost the id of its photo. Open the page again.")
	}
	return &care.NewPhoto{
		Photo: tracker.Photo{
			ID: tracker.PhotoID(id), Width: ready.Width, Height: ready.Height, ThumbW: ready.ThumbWidth, ThumbH: ready.ThumbHeight,
			SHA256: ready.SHA256, Posted: ready.PostedSHA256,
		},
		Full: ready.Full, Thumb: ready.Thumb,
	}, nil
}

// savePhoto keeps a photo that comes after its record.
func (h *Handler) savePhoto(w http.ResponseWriter, r *http.Request, f *form) error {
	photo, err := h.readPhoto(r, f)
	if err == nil && photo == nil && len(f.problems) == 0 {
		f.problems.Add("photo", "There is no photo in this post. Take it again.")
	}
	if err == nil {
		err = f.problems.Err()
	}
	if err != nil {
		return err
	}
	again, err := h.care.AddPhoto(r.Context(), actorOf(r), tracker.RecordID(f.text("of")), *photo)
	if err != nil {
		return err
	}
	if !wantsJSON(r) {
		http.Redirect(w, r, localPath(f.text("back")), http.StatusSeeOther)
		return nil
	}
	state := "kept"
	if again {
		state = "again"
	}
	writeJSON(w, http.StatusOK, receipt{Record: tracker.RecordID(photo.Photo.ID), Hash: photo.Photo.Posted, State: state, At: h.care.Now()})
	return nil
}
