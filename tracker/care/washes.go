package care

import (
	"slices"
	"strings"

	"github.com/google/uuid"

	"leground/tracker"
	"leground/tracker/rounds"
)

// washChanges says, for each open site, how its wash changes from one state of the yard's plans to another as of
// today. What begins later is marked on its own day.
func (st yardState) washChanges(after yardState) map[tracker.SiteID]string {
	out := map[tracker.SiteID]string{}
	for _, site := range st.sites {
		if words := changeWords(st.washesOf(site, st.Today), after.washesOf(site, st.Today)); site.Open() && words != "" {
			out[site.ID] = words
		}
	}
	return out
}

// washesOf lists what a site is washed with on a day, in words, whether it is due on that very day or not.
func (st yardState) washesOf(site tracker.Site, day tracker.Date) []string {
	var out []string
	for _, t := range rounds.Going(tracker.StepWash, st.plans, site, st.sites, st.Yard.Slots, day) {
		step := t.Step
		step.Minutes, step.Rinse, step.Note, step.Amount = 0, false, "", ""
		if words := strings.TrimPrefix(StepWords(step, st.Yard.Mark), "Wash with "); !slices.Contains(out, words) {
			out = append(out, words)
		}
	}
	slices.Sort(out)
	return out
}

func changeWords(was, is []string) string {
	switch {
	case slices.Equal(was, is):
		return ""
	case len(is) == 0:
		return "Wash ended: " + strings.Join(was, ", ")
	case len(was) == 0:
		return "Wash: " + strings.Join(is, ", ")
	}
	return "Wash changed to " + strings.Join(is, ", ") + ", was " + strings.Join(was, ", ")
}

// washMark is the id of the mark of a change of wash: of a day, or of one more on the same day by another
// version of a plan.
func washMark(site tracker.SiteID, day tracker.Date, more tracker.RecordID) tracker.RecordID {
	name := "wash " + string(site) + " " + day.String() + " " + string(more)
	return tracker.RecordID(uuid.NewSHA1(uuid.NameSpaceOID, []byte(name)).String())
}

// marked tells whether there is such a mark already.
func marked(tx Tx, id tracker.RecordID) (bool, error) {
	_, err := tx.EventByRecord(id)
	if tracker.KindOf(err) == tracker.NotFound {
		return false, nil
	}
	return err == nil, err
}

// markChanges marks what a version of a plan changes today on the trends of its sites.
func (st yardState) markChanges(tx Tx, changes map[tracker.SiteID]string, plan *tracker.Plan) error {
	for _, site := range st.sites {
		words, changed := changes[site.ID]
		if !changed {
			continue
		}
		id := washMark(site.ID, st.Today, "")
		if again, err := marked(tx, id); err != nil {
			return err
		} else if again {
			id = washMark(site.ID, st.Today, plan.ID)
		}
		if err := st.mark(tx, site, st.Today, id, words, plan.By); err != nil {
			return err
		}
	}
	return nil
}

func (st yardState) mark(tx Tx, site tracker.Site, day tracker.Date, id tracker.RecordID, words string, by tracker.PersonID) error {
	at := st.Now
	if day != st.Today {
		at = rounds.Due(day, 0, st.Zone)
	}
	err := tx.AddEvent(tracker.Event{ID: id, Kind: tracker.TreatmentChange, Horse: site.Horse, Leg: site.Leg, Site: site.ID, Day: day, At: at, By: by, Note: words})
	if err == nil {
		_, err = rejudge(tx, st.Moment, site)
	}
	return err
}

// markedBack is for how many days back a mark that an outage left out is made up for.
const markedBack = 3

// markWashes marks the changes of wash that the last days brought by the plans themselves: a step that began, a
// phase that ended, a version that was to hold from then on. A day on which a version was entered has its mark. The
// mark is by whoever entered the newest version of the horse.
func (st yardState) markWashes(tx Tx) error {
	for _, site := range st.sites {
		if !site.Open() {
			continue
		}
		for day := st.Today - markedBack + 1; day <= st.Today; day++ {
			words := changeWords(st.washesOf(site, day-1), st.washesOf(site, day))
			if words == "" {
				continue
			}
			id := washMark(site.ID, day, "")
			again, err := marked(tx, id)
			if err != nil {
				return err
			}
			if again {
				continue
			}
			if err := st.mark(tx, site, day, id, words, st.enteredBy(site.Horse)); err != nil {
				return err
			}
		}
	}
	return nil
}

func (st yardState) enteredBy(horse tracker.HorseID) tracker.PersonID {
	var newest tracker.Plan
	for _, p := range st.plans {
		if p.Horse == horse && p.At.After(newest.At) {
			newest = p
		}
	}
	return newest.By
}
