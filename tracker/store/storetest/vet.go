package storetest

import (
	"maps"
	"testing"
	"time"

	"leground/tracker"
	"leground/tracker/care"
)

// said is one thing that was set, one that a vet wrote and one pair of readings.
type said struct {
	setting  tracker.Setting
	proposal tracker.Proposal
	pair     care.BlindPair
}

// saids is everything of that sort that a yard can see of itself.
type saids struct {
	Settings, History []tracker.Setting
	Proposals         []tracker.Proposal
	Pairs             []care.BlindPair
	Counts            map[string]int
}

func setting(p Place, after time.Duration) tracker.Setting {
	return tracker.Setting{ID: newRecord(), Kind: tracker.OfHealing, Rule: "slow-28", Site: p.Wound.ID, Off: true, Values: map[string]float64{"closing": 0.125},
		WordOf: "our vet", Why: "a heavy leg", Day: today, At: noon.Add(after), By: p.Ada.ID, Hash: "hash"}
}

func proposal(p Place, after time.Duration) tracker.Proposal {
	return tracker.Proposal{ID: newRecord(), Horse: p.Bramble.ID, Link: NewID(), Name: "the vet", Plan: "Wash once a day.", RingIf: "It grows for a week.",
		At: noon.Add(after), State: tracker.Ended, AnsweredBy: p.Ada.ID, AnsweredAt: noon.Add(after + time.Hour), EndedBy: p.Bea.ID, EndedAt: noon.Add(after + 2*time.Hour), Hash: "hash"}
}

// pairOf is a wound that two people measured on one day.
func pairOf(p Place, days int) care.BlindPair {
	first, second := Look(p, p.Wound, days, tracker.Measured), Look(p, p.Wound, days, tracker.Measured)
	second.At, second.Looker, second.Blind = first.At.Add(time.Hour), p.Bea.ID, first.Root
	return care.BlindPair{First: first, Second: second}
}

// say puts one of each into a yard.
func (h *House) say(t testing.TB, p Place) said {
	t.Helper()
	s := said{setting(p, 0), proposal(p, 0), pairOf(p, 0)}
	s.proposal.State = tracker.Waiting
	h.addChecks(t, p, s.pair.First, s.pair.Second)
	h.write(t, p, func(tx care.Tx) error {
		must(t, tx.AddSetting(s.setting))
		return tx.AddProposal(s.proposal)
	})
	return s
}

func readSaids(t testing.TB, tx care.Tx, horse tracker.HorseID) (s saids) {
	t.Helper()
	var errs [5]error
	s.Settings, errs[0] = tx.Settings()
	s.History, errs[1] = tx.SettingHistory(100)
	s.Proposals, errs[2] = tx.ProposalHistory(horse, 100)
	s.Pairs, errs[3] = tx.BlindPairs(1)
	s.Counts, errs[4] = tx.CautionCounts(time.Time{})
	for _, err := range errs {
		must(t, err)
	}
	return s
}

// vetLeaks adds the leak cases of what is set and of what vets say.
func vetLeaks(h *House, theirs said, to map[string]func(care.Tx) leak) map[string]func(care.Tx) leak {
	p := h.Other
	maps.Copy(to, map[string]func(care.Tx) leak{
		"Settings":         func(tx care.Tx) leak { return listed(tx.Settings()) },
		"SettingHistory":   func(tx care.Tx) leak { return listed(tx.SettingHistory(100)) },
		"SettingByRecord":  func(tx care.Tx) leak { return looked(tx.SettingByRecord(theirs.setting.ID)) },
		"AddSetting":       func(tx care.Tx) leak { return refused(tx.AddSetting(setting(p, time.Hour))) },
		"BlindPairs":       func(tx care.Tx) leak { return listed(tx.BlindPairs(1)) },
		"CautionCounts":    func(tx care.Tx) leak { return listed(tx.CautionCounts(time.Time{})) },
		"Proposals":        func(tx care.Tx) leak { return listed(tx.Proposals(p.Bramble.ID)) },
		"ProposalHistory":  func(tx care.Tx) leak { return listed(tx.ProposalHistory(p.Bramble.ID, 100)) },
		"ProposalByRecord": func(tx care.Tx) leak { return looked(tx.ProposalByRecord(theirs.proposal.ID)) },
		"AddProposal":      func(tx care.Tx) leak { return refused(tx.AddProposal(proposal(p, time.Hour))) },
		"SaveProposal":     func(tx care.Tx) leak { return refused(tx.SaveProposal(theirs.proposal)) },
	})
	return to
}

// vetPointers are the ways in which a row of this sort can point into the other yard.
func vetPointers(h *House) map[string]func(care.Tx) error {
	return map[string]func(care.Tx) error{
		"a setting of their site": func(tx care.Tx) error {
			s := setting(h.Mine, 0)
			s.Site = h.Other.Wound.ID
			return tx.AddSetting(s)
		},
		"a setting by their person": func(tx care.Tx) error {
			s := setting(h.Mine, 0)
			s.By = h.Other.Ada.ID
			return tx.AddSetting(s)
		},
		"a proposal for their horse": func(tx care.Tx) error {
			p := proposal(h.Mine, 0)
			p.Horse = h.Other.Tom.ID
			return tx.AddProposal(p)
		},
	}
}

func testSettings(t *testing.T, h *House) {
	yards := setting(h.Mine, 0)
	wantFilled(t, yards)
	yards.Rule, yards.Site, yards.Off = "", "", false
	newer := yards
	newer.ID, newer.At, newer.Values = newRecord(), noon.Add(time.Hour), nil
	wounds, rule := setting(h.Mine, time.Minute), setting(h.Mine, 2*time.Minute)
	wounds.Rule, wounds.Off = "", false
	rule.Kind, rule.Site, rule.By, rule.Day = tracker.OfRule, "", h.Mine.Bea.ID, today-3
	h.write(t, h.Mine, func(tx care.Tx) error {
		for _, s := range []tracker.Setting{yards, wounds, rule, newer} {
			must(t, tx.AddSetting(s))
		}
		return nil
	})
	h.read(t, h.Mine, func(tx care.Tx) error {
		got, err := tx.Settings()
		must(t, err)
		same(t, "what is in force", got, []tracker.Setting{wounds, rule, newer})
		got, err = tx.SettingHistory(3)
		must(t, err)
		same(t, "the newest three changes", got, []tracker.Setting{newer, rule, wounds})
		one, err := tx.SettingByRecord(yards.ID)
		must(t, err)
		same(t, "a change that is no longer in force", one, yards)
		_, err = tx.SettingByRecord(newRecord())
		wantKind(t, "an unknown change", err, tracker.NotFound)
		return nil
	})
	wantKind(t, "the same change twice", h.DB.Write(t.Context(), h.Mine.Yard.ID, func(tx care.Tx) error { return tx.AddSetting(yards) }), tracker.Conflict)
	bad := yards
	bad.ID, bad.Kind = newRecord(), "weather"
	if err := h.DB.Write(t.Context(), h.Mine.Yard.ID, func(tx care.Tx) error { return tx.AddSetting(bad) }); err == nil {
		t.Error("a setting of an unknown kind was kept")
	}
}

func testProposals(t *testing.T, h *House) {
	ended, waiting, accepted, toms := proposal(h.Mine, 0), proposal(h.Mine, time.Minute), proposal(h.Mine, 2*time.Minute), proposal(h.Mine, 3*time.Minute)
	wantFilled(t, ended)
	waiting.State, waiting.AnsweredBy, waiting.AnsweredAt, waiting.EndedBy, waiting.EndedAt = tracker.Waiting, "", time.Time{}, "", time.Time{}
	accepted.State, toms.State, toms.Horse = tracker.Accepted, tracker.Accepted, h.Mine.Tom.ID
	h.write(t, h.Mine, func(tx care.Tx) error {
		for _, p := range []tracker.Proposal{ended, waiting, accepted, toms} {
			must(t, tx.AddProposal(p))
		}
		return nil
	})
	declined := waiting
	declined.State, declined.AnsweredBy, declined.AnsweredAt = tracker.Declined, h.Mine.Ada.ID, noon.Add(time.Hour)
	h.read(t, h.Mine, func(tx care.Tx) error {
		got, err := tx.Proposals("")
		must(t, err)
		same(t, "what waits or is in force", got, []tracker.Proposal{waiting, accepted, toms})
		got, err = tx.Proposals(h.Mine.Tom.ID)
		must(t, err)
		same(t, "one horse's", got, []tracker.Proposal{toms})
		got, err = tx.ProposalHistory(h.Mine.Bramble.ID, 2)
		must(t, err)
		same(t, "a horse's newest two", got, []tracker.Proposal{accepted, waiting})
		_, err = tx.ProposalByRecord(newRecord())
		wantKind(t, "an unknown proposal", err, tracker.NotFound)
		return nil
	})
	rewritten := declined
	rewritten.Plan, rewritten.RingIf, rewritten.Name = "other words", "", "somebody else"
	h.write(t, h.Mine, func(tx care.Tx) error { return tx.SaveProposal(rewritten) })
	h.read(t, h.Mine, func(tx care.Tx) error {
		got, err := tx.ProposalByRecord(waiting.ID)
		must(t, err)
		same(t, "a declined proposal, its words as they were", got, declined)
		live, err := tx.Proposals(h.Mine.Bramble.ID)
		must(t, err)
		same(t, "what is in force after that", live, []tracker.Proposal{accepted})
		return nil
	})
	bad := proposal(h.Mine, 0)
	bad.State = 0
	if err := h.DB.Write(t.Context(), h.Mine.Yard.ID, func(tx care.Tx) error { return tx.AddProposal(bad) }); err == nil {
		t.Error("a proposal in no state was kept")
	}
}

// testPairs puts readings right and takes them back: a pair is what both readings say now.
func testPairs(t *testing.T, h *House) {
	old, kept, gone, put := pairOf(h.Mine, -400), pairOf(h.Mine, -2), pairOf(h.Mine, -1), pairOf(h.Mine, 0)
	for _, p := range []care.BlindPair{old, kept, gone, put} {
		h.addChecks(t, h.Mine, p.First, p.Second)
	}
	right, back := correct(put.First, tracker.Looked), correct(gone.Second, tracker.Retracted)
	right.Size.LengthMM = 44
	h.addChecks(t, h.Mine, right, back)
	pairs := func() (found []care.BlindPair) {
		h.read(t, h.Mine, func(tx care.Tx) (err error) { found, err = tx.BlindPairs(today - 365); return err })
		return found
	}
	put.First = right
	same(t, "the pairs of a year", pairs(), []care.BlindPair{kept, put})
	h.addChecks(t, h.Mine, correct(kept.First, tracker.Retracted))
	same(t, "the pairs when a first reading was taken back", pairs(), []care.BlindPair{put})
	h.read(t, h.Mine, func(tx care.Tx) error {
		looks, err := tx.LastLooks(h.Mine.Bramble.ID)
		must(t, err)
		same(t, "the last look, which is no second reading", looks[h.Mine.Wound.ID], right)
		return nil
	})
}

func testCautionCounts(t *testing.T, h *House) {
	old, first, second := caution(h.Mine, tracker.RingNow, -time.Hour), caution(h.Mine, tracker.RingNow, 0), caution(h.Mine, tracker.RingNow, time.Minute)
	other := caution(h.Mine, tracker.NextVisit, time.Minute)
	other.Rule = "thrush"
	h.addCautions(t, h.Mine, old, first, second, other)
	h.read(t, h.Mine, func(tx care.Tx) error {
		got, err := tx.CautionCounts(noon)
		must(t, err)
		same(t, "cautions by rule", got, map[string]int{"maggots": 2, "thrush": 1})
		return nil
	})
}
