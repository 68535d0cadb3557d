package care_test

import (
	"testing"

	"leground/tracker"
)

// Two looks at the same in one round are shown on the Board when they differ, or when care may have been given twice;
// two that found the same need nobody.
func TestLookedAtTwice(t *testing.T) {
	m := newMarl(t)
	site := m.finds(tracker.Wound)
	doubled := func() (what []string) {
		t.Helper()
		view, err := m.Board(t.Context(), m.ada)
		m.must(err)
		for _, d := range view.Horses[0].Doubled {
			what = append(what, d.What)
			if len(d.Checks) < 2 {
				t.Errorf("of %s only %d looks are shown", d.What, len(d.Checks))
			}
		}
		return what
	}
	m.records(m.ada, look(site, 40, 20))
	m.records(m.bea, look(site, 40, 20))
	if got := doubled(); len(got) != 0 {
		t.Errorf("two looks that found the same are shown: %v", got)
	}
	covered := look(site, 0, 0)
	covered.Size = tracker.Size{Answer: tracker.CouldNotMeasure}
	m.records(m.bea, covered)
	if got := doubled(); len(got) != 1 || got[0] != site.Tag() {
		t.Errorf("of one that was measured and one that could not be %v is shown", got)
	}
	line := func(leg tracker.Leg, care ...tracker.CareAct) tracker.Check {
		c := look(tracker.Site{}, 0, 0)
		c.Subject, c.Horse, c.Leg, c.Size, c.SkinSeen, c.Care = tracker.OfLeg, m.bramble.ID, leg, tracker.Size{}, false, care
		c.Signs = tracker.Signs{tracker.Filling: 0}
		return c
	}
	m.records(m.ada, line(tracker.LF, tracker.Washed))
	m.records(m.bea, line(tracker.LF, tracker.Washed))
	m.records(m.ada, line(tracker.RF))
	m.records(m.bea, line(tracker.RF))
	if got := doubled(); len(got) != 2 || got[0] != "LF" {
		t.Errorf("%v are shown, want LF, which both washed, and %s", got, site.Tag())
	}
}
