package storetest

import (
	"slices"
	"testing"
	"time"

	"leground/tracker"
	"leground/tracker/care"
)

// Look is an ordinary look at a site, some days from today.
func Look(p Place, site tracker.Site, days int, answer tracker.SizeAnswer) tracker.Check {
	id := newRecord()
	c := tracker.Check{
		ID: id, Root: id, Version: 1, Subject: tracker.OfSite, Outcome: tracker.Looked, Horse: site.Horse, Leg: site.Leg, Site: site.ID,
		At: noon.AddDate(0, 0, days), Day: today + tracker.Date(days), ServerAt: noon.AddDate(0, 0, days), By: p.Ada.ID, Looker: p.Ada.ID, Hash: "hash",
	}
	if c.Size.Answer = answer; answer.HasLengths() {
		c.Size.LengthMM, c.Size.WidthMM, c.Size.Method = 40, 30, tracker.Ruler
	}
	return c
}

// fullCheck is a check with nothing left out.
func fullCheck(p Place) tracker.Check {
	c := Look(p, p.Wound, 0, tracker.Measured)
	c.Root, c.Version = newRecord(), 3
	c.At = noon.Add(-time.Hour + time.Millisecond)
	c.DeviceAt, c.WrittenAt, c.ClockOff = noon.Add(-30*time.Minute), noon.Add(-2*time.Hour), 90*time.Minute+7*time.Millisecond
	c.RoundDay, c.Slot, c.Looker = today-1, "evening", p.Bea.ID
	c.Size = tracker.Size{Answer: tracker.SameAsLast, LengthMM: 41, WidthMM: 29, AreaMM2: 812, DepthMM: 5, BedMM: -2, Method: tracker.Traced}
	c.Bed, c.Scab, c.Bandage, c.Hair, c.Clipped, c.Sedated, c.SkinSeen = tracker.BedBelow, true, true, true, true, true, true
	c.Signs = tracker.Signs{tracker.Exudate: 2, tracker.Pain: 0}
	c.Dangers, c.Flags, c.Care = []tracker.Danger{tracker.Maggots, tracker.Bleeding}, []tracker.Flag{tracker.Smell}, []tracker.CareAct{tracker.Washed, tracker.Dried}
	c.Vitals = tracker.Vitals{TemperatureTenthsC: 384, PulsePerMinute: 44, BreathsPerMinute: 12, RefillTenthsSecond: 21, Gums: "pink",
		NoGutSounds: true, LabouredBreathing: true, RestedMinutes: 20, WeightKG: 712, ConditionHalves: 7, GirthMM: [4]int{280, 281, 291, 290}}
	c.Blind = newRecord()
	c.Skip, c.Note = "would not stand", "Weeping at the <edge>, \"sore\" – ½ cm"
	return c
}

func (h *House) addChecks(t testing.TB, p Place, checks ...tracker.Check) {
	t.Helper()
	h.write(t, p, func(tx care.Tx) error {
		for _, c := range checks {
			if err := tx.AddCheck(c); err != nil {
				return err
			}
		}
		return nil
	})
}

func (h *House) checks(t testing.TB, p Place, q care.CheckQuery) (found []tracker.Check) {
	t.Helper()
	h.read(t, p, func(tx care.Tx) (err error) { found, err = tx.Checks(q); return err })
	return found
}

func testChecks(t *testing.T, h *House) {
	full := fullCheck(h.Mine)
	wantFilled(t, full)
	line := Look(h.Mine, h.Mine.Wound, 1, 0)
	line.Subject, line.Site, line.ServerAt = tracker.OfLeg, "", time.Time{}
	whole := Look(h.Mine, h.Mine.Wound, 2, 0)
	whole.Subject, whole.Leg, whole.Site = tracker.OfHorse, 0, ""
	h.addChecks(t, h.Mine, full, line, whole)
	same(t, "all checks", h.checks(t, h.Mine, care.CheckQuery{}), []tracker.Check{full, line, whole})
	same(t, "looks at the whole horse", h.checks(t, h.Mine, care.CheckQuery{Horse: h.Mine.Bramble.ID, Whole: true}), []tracker.Check{whole})
	h.read(t, h.Mine, func(tx care.Tx) error {
		got, err := tx.CheckByRecord(full.ID)
		must(t, err)
		same(t, "a check by its id", got, full)
		_, err = tx.CheckByRecord(full.Root)
		wantKind(t, "an unknown check", err, tracker.NotFound)
		return nil
	})
	h.testGround(t, full, line, whole)
	wantKind(t, "a record id that is there", h.DB.Write(t.Context(), h.Mine.Yard.ID, func(tx care.Tx) error {
		other := Look(h.Mine, h.Mine.Patch, 0, tracker.NotDue)
		other.ID = full.ID
		return tx.AddCheck(other)
	}), tracker.Conflict)
	wantKind(t, "a version that is there", h.DB.Write(t.Context(), h.Mine.Yard.ID, func(tx care.Tx) error {
		other := full
		other.ID = newRecord()
		return tx.AddCheck(other)
	}), tracker.Conflict)
	same(t, "all checks after the refusals", h.checks(t, h.Mine, care.CheckQuery{}), []tracker.Check{full, line, whole})
}

// testGround asks what three kept looks stand on, and looks like them that are not kept yet.
func (h *House) testGround(t *testing.T, ofSite, ofLeg, ofHorse tracker.Check) {
	t.Helper()
	again := ofSite
	again.ID = newRecord()
	again.Root, again.Version, again.At = again.ID, 1, ofSite.At.Add(time.Minute)
	line := ofLeg // in the same round, of something else
	line.ID, line.RoundDay, line.Slot = newRecord(), ofSite.RoundDay, ofSite.Slot
	line.Root = line.ID
	whole := ofHorse // outside every round, as that one is
	whole.ID = newRecord()
	whole.Root = whole.ID
	h.addChecks(t, h.Mine, again, line, whole)
	h.write(t, h.Mine, func(tx care.Tx) error {
		must(t, tx.AddRound(tracker.Round{Day: ofSite.RoundDay, Slot: ofSite.Slot, DueAt: noon, UseBy: noon.Add(time.Hour), State: tracker.RoundOpen}))
		return tx.SetWake(noon.Add(time.Minute))
	})
	h.read(t, h.Mine, func(tx care.Tx) error {
		yard, err := tx.Yard()
		must(t, err)
		for name, c := range map[string]tracker.Check{"a site": ofSite, "a leg": ofLeg, "a horse": ofHorse} {
			want := care.Ground{Yard: yard, WakeAt: noon.Add(time.Minute), Known: true}
			if c.Site != "" {
				want.Site, want.Beside, want.UseBy = h.Mine.Wound, true, noon.Add(time.Hour)
			}
			got, err := tx.Ground(c)
			must(t, err)
			same(t, "the ground of a kept look at "+name, got, want)
			c.ID, want.Known = newRecord(), false
			got, err = tx.Ground(c)
			must(t, err)
			same(t, "the ground of a new look at "+name, got, want)
			c.Horse, c.Site = tracker.HorseID(NewID()), tracker.SiteID(NewID())
			_, err = tx.Ground(c)
			wantKind(t, "the ground of an unknown "+name, err, tracker.NotFound)
		}
		alone, second := line, line
		second.Root = newRecord()
		alone.Root, alone.Leg = second.Root, tracker.LH
		for name, one := range map[string]struct {
			look tracker.Check
			want []tracker.Check
		}{
			"a site": {ofSite, []tracker.Check{again}}, "a leg's first": {line, nil}, "a leg's second": {second, []tracker.Check{line}},
			"another leg's": {alone, nil}, "one outside every round": {ofHorse, nil},
		} {
			looks, err := tx.InRound(one.look)
			must(t, err)
			same(t, "what stands in the round beside "+name, looks, one.want)
			one.look.ID = newRecord()
			ground, err := tx.Ground(one.look)
			must(t, err)
			same(t, "whether something stands beside "+name, ground.Beside, one.want != nil)
		}
		return nil
	})
	h.write(t, h.Mine, func(tx care.Tx) error {
		for _, c := range []tracker.Check{again, line, whole} {
			gone := c
			gone.ID, gone.Version, gone.Outcome = newRecord(), c.Version+1, tracker.Retracted
			must(t, tx.AddCheck(gone))
		}
		return nil
	})
}

// correct gives the next version of a check.
func correct(c tracker.Check, outcome tracker.Outcome) tracker.Check {
	c.ID, c.Version, c.Outcome = newRecord(), c.Version+1, outcome
	return c
}

func testVersions(t *testing.T, h *House) {
	first := Look(h.Mine, h.Mine.Wound, 0, tracker.Measured)
	second := correct(first, tracker.Looked)
	second.Size.LengthMM = 35
	gone := correct(second, tracker.Retracted)
	other := Look(h.Mine, h.Mine.Wound, 0, tracker.Measured)
	other.At = other.At.Add(time.Minute)
	versions := func() (found []tracker.Check) {
		h.read(t, h.Mine, func(tx care.Tx) (err error) { found, err = tx.Versions(first.Root); return err })
		return found
	}
	h.addChecks(t, h.Mine, first, other)
	for _, step := range []struct {
		add          tracker.Check
		current, all []tracker.Check
	}{
		{second, []tracker.Check{second, other}, []tracker.Check{first, second, other}},
		{gone, []tracker.Check{other}, []tracker.Check{first, second, gone, other}},
		{correct(gone, tracker.Looked), nil, nil},
	} {
		h.addChecks(t, h.Mine, step.add)
		if step.current == nil { // taken back, and then put right after all
			step.current, step.all = []tracker.Check{step.add, other}, []tracker.Check{first, second, gone, step.add, other}
		}
		same(t, "current versions", h.checks(t, h.Mine, care.CheckQuery{Site: first.Site}), step.current)
		same(t, "all versions", h.checks(t, h.Mine, care.CheckQuery{Site: first.Site, All: true}), step.all)
	}
	if got := versions(); len(got) != 4 || !slices.IsSortedFunc(got, func(a, b tracker.Check) int { return a.Version - b.Version }) {
		t.Errorf("%d versions, want 4, oldest first", len(got))
	}
}

func testCheckLists(t *testing.T, h *House) {
	var looks []tracker.Check // of the wound, one a day for ten days
	for day := range 10 {
		c := Look(h.Mine, h.Mine.Wound, day, tracker.Measured)
		c.RoundDay, c.Slot = c.Day, "morning"
		looks = append(looks, c)
	}
	evening := Look(h.Mine, h.Mine.Patch, 3, tracker.NotDue)
	evening.At, evening.RoundDay, evening.Slot = evening.At.Add(time.Hour), evening.Day, "evening"
	toms := Look(h.Mine, h.Mine.Wound, 20, 0)
	toms.Subject, toms.Site, toms.Horse = tracker.OfLeg, "", h.Mine.Tom.ID
	h.addChecks(t, h.Mine, append(slices.Clone(looks), evening, toms)...)
	newest := func(checks ...tracker.Check) []tracker.Check { slices.Reverse(checks); return checks }
	for _, c := range []struct {
		what string
		q    care.CheckQuery
		want []tracker.Check
	}{
		{"of a horse", care.CheckQuery{Horse: h.Mine.Tom.ID}, []tracker.Check{toms}},
		{"of a site", care.CheckQuery{Site: h.Mine.Patch.ID}, []tracker.Check{evening}},
		{"of a span", care.CheckQuery{From: today + 3, To: today + 4}, []tracker.Check{looks[3], evening, looks[4]}},
		{"from a day on", care.CheckQuery{From: today + 9}, []tracker.Check{looks[9], toms}},
		{"of a round", care.CheckQuery{RoundDay: today + 3, Slot: "morning"}, []tracker.Check{looks[3]}},
		{"of the newest", care.CheckQuery{Limit: 2, Horse: h.Mine.Bramble.ID}, newest(looks[8], looks[9])},
		{"before an instant", care.CheckQuery{Limit: 2, Before: looks[4].At}, newest(looks[3], evening)},
		{"of a horse, a site and a span", care.CheckQuery{Horse: h.Mine.Bramble.ID, Site: h.Mine.Wound.ID, From: today + 1, To: today + 2}, looks[1:3]},
		{"of nothing", care.CheckQuery{Horse: h.Mine.Tom.ID, Site: h.Mine.Wound.ID}, nil},
	} {
		same(t, "checks "+c.what, h.checks(t, h.Mine, c.q), c.want)
	}
}

func testEnds(t *testing.T, h *House) {
	first := Look(h.Mine, h.Mine.Wound, -20, tracker.Measured)
	wrong := Look(h.Mine, h.Mine.Wound, -25, tracker.Measured) // taken back
	last := Look(h.Mine, h.Mine.Wound, -1, tracker.SameAsLast)
	unsized := Look(h.Mine, h.Mine.Wound, 0, tracker.UnderBandage)
	skipped := Look(h.Mine, h.Mine.Wound, 1, 0)
	skipped.Outcome, skipped.Skip = tracker.Skipped, "would not stand"
	patch := Look(h.Mine, h.Mine.Patch, -3, tracker.NotDue)
	right := correct(patch, tracker.Looked)
	h.addChecks(t, h.Mine, wrong, first, last, unsized, skipped, patch, right, correct(wrong, tracker.Retracted))
	for _, horse := range []tracker.HorseID{"", h.Mine.Bramble.ID} {
		h.read(t, h.Mine, func(tx care.Tx) error {
			for _, c := range []struct {
				what string
				list func(tracker.HorseID) (map[tracker.SiteID]tracker.Check, error)
				want map[tracker.SiteID]tracker.Check
			}{
				{"first sizes", tx.FirstSizes, map[tracker.SiteID]tracker.Check{h.Mine.Wound.ID: first}},
				{"last sizes", tx.LastSizes, map[tracker.SiteID]tracker.Check{h.Mine.Wound.ID: last}},
				{"last looks", tx.LastLooks, map[tracker.SiteID]tracker.Check{h.Mine.Wound.ID: unsized, h.Mine.Patch.ID: right}},
			} {
				got, err := c.list(horse)
				must(t, err)
				same(t, c.what, got, c.want)
				none, err := c.list(h.Mine.Tom.ID)
				must(t, err)
				same(t, c.what+" of a horse without sites", none, map[tracker.SiteID]tracker.Check{})
			}
			return nil
		})
	}
	closed := h.Mine.Wound
	closed.ClosedOn = today
	h.write(t, h.Mine, func(tx care.Tx) error { return tx.SaveSite(closed) })
	h.read(t, h.Mine, func(tx care.Tx) error {
		looks, err := tx.LastLooks("")
		same(t, "last looks of open sites", looks, map[tracker.SiteID]tracker.Check{h.Mine.Patch.ID: right})
		sizes, err2 := tx.LastSizes("")
		same(t, "last sizes of closed sites too", sizes, map[tracker.SiteID]tracker.Check{h.Mine.Wound.ID: last})
		must(t, err2)
		return err
	})
}

// testSeries holds what a judgement reads against the whole checks.
func testSeries(t *testing.T, h *House) {
	full := fullCheck(h.Mine)
	late := Look(h.Mine, h.Mine.Wound, 1, tracker.NotDue)
	closed := Look(h.Mine, h.Mine.Wound, 2, tracker.ClosedOver)
	skipped := Look(h.Mine, h.Mine.Wound, 3, 0)
	skipped.Outcome = tracker.Skipped
	old, other := Look(h.Mine, h.Mine.Wound, -30, tracker.Measured), Look(h.Mine, h.Mine.Patch, 0, tracker.NotDue)
	h.addChecks(t, h.Mine, full, late, closed, skipped, old, other, correct(old, tracker.Retracted))
	short := func(c tracker.Check) tracker.Check {
		return tracker.Check{ID: c.ID, Outcome: c.Outcome, Site: c.Site, At: c.At, Day: c.Day, Looker: c.Looker, Scab: c.Scab, Bandage: c.Bandage, SkinSeen: c.SkinSeen,
			Signs: c.Signs, Size: tracker.Size{Answer: c.Size.Answer, LengthMM: c.Size.LengthMM, WidthMM: c.Size.WidthMM, AreaMM2: c.Size.AreaMM2, Method: c.Size.Method}}
	}
	for _, c := range []struct {
		from  tracker.Date
		sized bool
		want  []tracker.Check
	}{
		{1, false, []tracker.Check{short(full), short(late), short(closed), short(skipped)}},
		{1, true, []tracker.Check{short(full), short(closed)}},
		{today + 2, true, []tracker.Check{short(closed)}},
	} {
		h.read(t, h.Mine, func(tx care.Tx) error {
			got, err := tx.Series(h.Mine.Wound.ID, c.from, c.sized)
			same(t, "what a judgement reads", got, c.want)
			return err
		})
	}
}

func testConflicts(t *testing.T, h *House) {
	older := care.Conflict{ID: NewID(), Record: newRecord(), By: h.Mine.Bea.ID, Received: noon, Path: "/checks",
		Fields: map[string][]string{"note": {"a", "b & c"}, "empty": nil}, Hash: "another"}
	wantFilled(t, older)
	newer := older
	newer.ID, newer.Record, newer.Received = NewID(), newRecord(), noon.Add(time.Second)
	again := older
	again.ID, again.Received = NewID(), noon.Add(time.Hour)
	conflicts := func() (found []care.Conflict) {
		h.read(t, h.Mine, func(tx care.Tx) (err error) { found, err = tx.Conflicts(); return err })
		return found
	}
	h.write(t, h.Mine, func(tx care.Tx) error {
		for _, c := range []care.Conflict{newer, older, again} {
			must(t, tx.AddConflict(c))
		}
		return nil
	})
	same(t, "conflicts, oldest first, the same one once", conflicts(), []care.Conflict{older, newer})
	h.write(t, h.Mine, func(tx care.Tx) error { return tx.SettleConflict(older.ID, h.Mine.Ada.ID, noon.Add(time.Minute)) })
	h.write(t, h.Mine, func(tx care.Tx) error { return tx.SettleConflict(older.ID, h.Mine.Bea.ID, noon.Add(time.Hour)) })
	same(t, "conflicts nobody has settled", conflicts(), []care.Conflict{newer})
	wantKind(t, "settling an unknown conflict", h.DB.Write(t.Context(), h.Mine.Yard.ID, func(tx care.Tx) error {
		return tx.SettleConflict(NewID(), h.Mine.Ada.ID, noon)
	}), tracker.NotFound)
}
