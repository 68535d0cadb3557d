package care

import (
	"cmp"
	"context"
	"maps"
	"strings"
	"time"

	"leground/tracker"
	"leground/tracker/healing"
)

// BlindPair is one wound measured twice on a day, the second time by somebody who did not see the first.
type BlindPair struct{ First, Second tracker.Check }

// spreadDays is how far back second readings count towards the measuring spread: hands learn.
const spreadDays = 365

// PairsWanted is how many second readings a yard is asked for before its spread is worked out.
const PairsWanted = 5

// Spread is the measuring spread of a person, or of everybody, with one method.
type Spread struct {
	Method tracker.Method
	Person tracker.PersonID // empty: everybody
	MM     float64          // 0: not worked out yet
	Pairs  int
}

// SpreadView is the measuring spread and what can be measured again, blind.
type SpreadView struct {
	Moment
	Spreads []Spread // everybody's first, by method
	Start   float64  // mm, used where nothing was worked out
	Due     []BlindDue
	Done    []BlindPair // of today, whose second reading is the asker's own
	Sites   map[tracker.SiteID]tracker.Site
	Horses  map[tracker.HorseID]tracker.Horse
	People  map[tracker.PersonID]string
}

// BlindDue is a wound that somebody else measured today and the asker did not. The first reading is not in it.
type BlindDue struct {
	Site  tracker.Site
	Horse tracker.Horse
	First tracker.RecordID // root of the reading to be repeated
	By    tracker.PersonID // who took it
}

// Spread gives the yard's measuring spread and what the asker can measure again without having seen it.
func (s *Service) Spread(ctx context.Context, a Actor) (SpreadView, error) {
	return reading(ctx, s, a.Yard, func(tx Tx, now time.Time) (SpreadView, error) {
		view := SpreadView{Sites: map[tracker.SiteID]tracker.Site{}, Horses: map[tracker.HorseID]tracker.Horse{}}
		st, err := readYard(tx, a, now)
		if err != nil {
			return view, err
		}
		var e3 error
		force, e1 := settingsOf(tx, st.Yard)
		pairs, e2 := tx.BlindPairs(st.Today - spreadDays)
		view.People, e3 = names(tx)
		view.Moment, view.Start = st.Moment, force.yard.SpreadMM
		view.Spreads = spreadsShown(pairs, force.yard.Spreads)
		view.Due = st.blindDue(a.Person.ID)
		for _, pair := range pairs {
			if pair.Second.Day == st.Today && pair.Second.Looker == a.Person.ID {
				view.Done = append(view.Done, pair)
			}
		}
		for _, site := range st.sites {
			view.Sites[site.ID] = site
		}
		for _, horse := range st.horses {
			view.Horses[horse.ID] = horse
		}
		return view, cmp.Or(e1, e2, e3)
	})
}

// blindWanted is blindDue while nobody's measuring spread is known.
func (st yardState) blindWanted(tx Tx, person tracker.PersonID) ([]BlindDue, error) {
	force, err := settingsOf(tx, st.Yard)
	if err != nil || len(force.yard.Spreads) > 0 {
		return nil, err
	}
	return st.blindDue(person), nil
}

// blindDue lists the open wounds that others measured today and a person did not, each once.
func (st yardState) blindDue(person tracker.PersonID) []BlindDue {
	horses := map[tracker.HorseID]tracker.Horse{}
	for _, h := range st.horses {
		horses[h.ID] = h
	}
	var due []BlindDue
	for _, site := range st.sites {
		horse, here := horses[site.Horse]
		if !here || !site.Open() || site.Kind != tracker.Wound {
			continue
		}
		var first tracker.Check
		own := false
		for _, c := range st.recent {
			if c.Site != site.ID || c.Day != st.Today || !c.Size.Answer.HasLengths() || c.Size.Method != tracker.Ruler {
				continue
			}
			own = own || c.Looker == person
			if c.Blind == "" {
				first = c
			}
		}
		if first.ID != "" && !own {
			due = append(due, BlindDue{Site: site, Horse: horse, First: first.Root, By: first.Looker})
		}
	}
	return due
}

// RecordBlind keeps a second reading: a check of its own, outside every round. The yard's spread is worked
// out anew, and the site judged by both readings of the day.
func (s *Service) RecordBlind(ctx context.Context, a Actor, first tracker.RecordID, in Entry) (Saved, error) {
	in.Check.Blind, in.Check.Subject, in.Check.Outcome, in.Check.SkinSeen = first, tracker.OfSite, tracker.Looked, true
	in.Check.Size.Answer, in.Check.Size.Method = tracker.Measured, tracker.Ruler
	return s.Record(ctx, a, in)
}

// placeBlind refuses a second reading that proves nothing, and takes it out of the round.
func placeBlind(tx Tx, check *tracker.Check) error {
	if check.Blind == "" {
		return nil
	}
	check.RoundDay, check.Slot = 0, ""
	if check.Version > 1 {
		return nil
	}
	first, err := tx.CheckByRecord(check.Blind)
	if err != nil {
		return err
	}
	switch {
	case first.Site != check.Site || first.Blind != "" || !first.Size.Answer.HasLengths() || first.Size.Method != check.Size.Method:
		return tracker.Refuse(tracker.Invalid, "A second reading repeats an ordinary one of the same site, taken in the same way. Open the page again.")
	case first.Looker == check.Looker:
		return tracker.Refuse(tracker.Invalid, "Somebody else must take the second reading: the one who took the first cannot forget it.")
	case first.Day != check.Day:
		return tracker.Refuse(tracker.Invalid, "A second reading must be taken on the same day as the first. A wound is another one tomorrow.")
	}
	return nil
}

// calibrate works out the spreads from the second readings of the last year, and keeps them when they changed.
func calibrate(tx Tx, a Actor, m Moment) error {
	pairs, e1 := tx.BlindPairs(m.Today - spreadDays)
	force, e2 := settingsOf(tx, m.Yard)
	if err := cmp.Or(e1, e2); err != nil {
		return err
	}
	spreads := healing.Calibrate(healingPairs(pairs))
	if maps.Equal(spreads, force.yard.Spreads) {
		return nil
	}
	values := map[string]float64{}
	for key, mm := range spreads {
		values[strings.TrimSpace(key.Method.String()+" "+key.Measurer)] = mm
	}
	return tx.AddSetting(tracker.Setting{ID: NewRecord(), Kind: tracker.OfSpread, Values: values, WordOf: "second readings",
		Why: "worked out from blind second readings of the last year", Day: m.Today, At: m.Now, By: a.Person.ID})
}

// healingPairs gives pairs to package healing.
func healingPairs(pairs []BlindPair) []healing.Pair {
	var out []healing.Pair
	for _, p := range pairs {
		a := healing.NewSite(tracker.Site{}, []tracker.Check{p.First}, nil).Readings
		b := healing.NewSite(tracker.Site{}, []tracker.Check{p.Second}, nil).Readings
		if len(a) == 1 && len(b) == 1 {
			out = append(out, healing.Pair{A: a[0], B: b[0]})
		}
	}
	return out
}

// spreadsOf reads the stored spreads: "ruler", or "ruler" and a person's id.
func spreadsOf(values map[string]float64) map[healing.SpreadKey]float64 {
	out := map[healing.SpreadKey]float64{}
	for name, mm := range values {
		word, measurer, _ := strings.Cut(name, " ")
		if method, err := tracker.ParseMethod(word); err == nil {
			out[healing.SpreadKey{Method: method, Measurer: measurer}] = mm
		}
	}
	return out
}

// spreadsShown counts the pairs of everybody and of each person, by method.
func spreadsShown(pairs []BlindPair, spreads map[healing.SpreadKey]float64) []Spread {
	var out []Spread
	add := func(method tracker.Method, person tracker.PersonID) {
		for i := range out {
			if out[i].Method == method && out[i].Person == person {
				out[i].Pairs++
				return
			}
		}
		out = append(out, Spread{method, person, spreads[healing.SpreadKey{Method: method, Measurer: string(person)}], 1})
	}
	for _, p := range pairs {
		add(p.Second.Size.Method, "")
	}
	for _, p := range pairs {
		add(p.First.Size.Method, p.First.Looker)
		add(p.Second.Size.Method, p.Second.Looker)
	}
	return out
}
