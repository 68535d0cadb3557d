package mixing

import (
	"fmt"
	"math/big"
	"time"

	"leground/tracker"
)

// DilutionKeeps is how long any mix keeps unless a label, the vet or a named monograph says otherwise.
const DilutionKeeps = 24 * time.Hour

// Shelf is what limits the life of a bottle or a mix. Zero values mean that there is no such limit.
type Shelf struct {
	Expiry      time.Time     // printed on the bottle: the moment from which it must not be used
	Opened      time.Time     // in the yard's zone, since InUseDays are calendar days
	InUseDays   int           // days after opening
	Made        time.Time     // when it was diluted
	Keeps       time.Duration // after it was made; 0 is DilutionKeeps
	KeepsSource string        // the label, vet or monograph that allows a Keeps above DilutionKeeps
	Parent      time.Time     // throw-away time of what it was made from
}

// ThrowAway gives the earliest of all limits and says which it is. A Keeps above 24 hours without a
// source does not count. Without any limit the time is zero.
func (s Shelf) ThrowAway() (until time.Time, why string) {
	consider := func(t time.Time, reason string) {
		if !t.IsZero() && (until.IsZero() || t.Before(until)) {
			until, why = t, reason
		}
	}
	consider(s.Expiry, "date printed on the bottle")
	if !s.Opened.IsZero() && s.InUseDays > 0 {
		consider(s.Opened.AddDate(0, 0, s.InUseDays), fmt.Sprintf("%d days after opening", s.InUseDays))
	}
	if !s.Made.IsZero() {
		keeps, reason := s.Keeps, "what "+s.KeepsSource+" allows for the mix"
		if keeps <= 0 || keeps > DilutionKeeps && s.KeepsSource == "" {
			keeps = DilutionKeeps
		}
		if keeps == DilutionKeeps && s.KeepsSource == "" {
			reason = "24 hours after mixing"
		} else if s.KeepsSource == "" {
			reason = "what was set for the mix"
		}
		consider(s.Made.Add(keeps), reason)
	}
	consider(s.Parent, "throw-away time of the bottle it was made from")
	if why == "" {
		why = "no limit is known"
	}
	return until, why
}

// Check says whether it may be used now: R8 from its throw-away time on, and W16 for a mix more than
// 24 hours old that no label, vet or monograph lets keep longer.
func (s Shelf) Check(now time.Time) []Note {
	var notes []Note
	if until, why := s.ThrowAway(); !until.IsZero() && !now.Before(until) {
		notes = append(notes, say("R8", "This is past its throw-away time (%s). Throw it away.", why))
	}
	if !s.Made.IsZero() && s.KeepsSource == "" && now.Sub(s.Made) >= DilutionKeeps {
		notes = append(notes, say("W16", "This was diluted more than 24 hours ago. No label, vet or monograph lets it keep longer."))
	}
	return notes
}

// Keeping is a published limit for a mix that may be chosen in place of 24 hours.
type Keeping struct {
	Of     Substance
	UpTo   *big.Rat // strongest it speaks of, in g per 100 mL
	Keeps  time.Duration
	How    string
	Source string
	Grade  Grade
}

// Keepings gives the published limits of mixes. Others come from a label or the vet.
func Keepings() []Keeping {
	return []Keeping{
		{SodiumHypochlorite, frac(32, 1000), 7 * 24 * time.Hour, "tight, light-resistant plastic",
			"United States Pharmacopeia, sodium hypochlorite topical solution", Law},
		{SodiumChloride, frac(9, 10), 3 * 24 * time.Hour, "closed, at room temperature", "children's hospital saline sheet", Handbook},
	}
}

// Label is what is written on a mix.
type Label struct {
	Name      string
	Strength  Strength
	Made      time.Time // in the yard's zone
	By        string
	CheckedBy string    // "": checked by one person, and it says so
	ThrowAway time.Time // in the yard's zone
	For       string    // the horse, or "" for any
	From      string    // the bottle it was made from
	Cautions  []string  // "Do not swallow.", "Not for eyes."
}

// Lines gives the label line by line, to print or to copy by hand.
func (l Label) Lines(mark tracker.DecimalMark) []string {
	const when = "Mon 2 Jan 2006, 15:04"
	lines := []string{l.Name, of(l.Strength, mark), "Made " + l.Made.Format(when) + " by " + l.By}
	if l.CheckedBy == "" {
		lines = append(lines, "Checked by one person")
	} else {
		lines = append(lines, "Checked by "+l.CheckedBy)
	}
	if l.From != "" {
		lines = append(lines, "From "+l.From)
	}
	lines = append(lines, tracker.Capital(tracker.EndName(l.ThrowAway, l.ThrowAway.Location())))
	if l.For != "" {
		lines = append(lines, "For "+l.For)
	}
	return append(lines, l.Cautions...)
}
