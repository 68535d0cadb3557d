package store

import (
	"strconv"
	"time"

	"leground/tracker"
	"leground/tracker/care"
)

const proposalColumns = `record_id, horse_id, link_id, name, plan, ring_if, at, content_hash, state, answered_by, answered_at,
	ended_by, ended_at`

func scanProposal(r row) (p tracker.Proposal, err error) {
	return p, r.Scan(&p.ID, &p.Horse, &p.Link, &p.Name, &p.Plan, &p.RingIf, asInstant(&p.At), &p.Hash,
		asCode(&p.State, tracker.ParseProposalState), &p.AnsweredBy, asInstant(&p.AnsweredAt), &p.EndedBy, asInstant(&p.EndedAt))
}

// Proposals lists what waits for an answer or is in force, of one horse or of every horse, oldest first.
func (t *tx) Proposals(horse tracker.HorseID) ([]tracker.Proposal, error) {
	narrow, args := ofHorse("horse_id", horse, []any{t.yard})
	return list(t, scanProposal, `SELECT `+proposalColumns+` FROM proposal WHERE yard_id = $1 AND state IN ('waiting', 'accepted')`+narrow+`
		ORDER BY at, record_id`, args...)
}

// ProposalHistory lists a horse's newest proposals in any state, at most so many, newest first.
func (t *tx) ProposalHistory(horse tracker.HorseID, most int) ([]tracker.Proposal, error) {
	return list(t, scanProposal, `SELECT `+proposalColumns+` FROM proposal WHERE yard_id = $1 AND horse_id = $2
		ORDER BY at DESC, record_id DESC LIMIT `+strconv.Itoa(most), t.yard, string(horse))
}

// ProposalByRecord finds the proposal that a form made.
func (t *tx) ProposalByRecord(id tracker.RecordID) (tracker.Proposal, error) {
	return one(t, "proposal", scanProposal, `SELECT `+proposalColumns+` FROM proposal WHERE yard_id = $1 AND record_id = $2`, t.yard, string(id))
}

// AddProposal adds a proposal.
func (t *tx) AddProposal(p tracker.Proposal) error {
	return t.insert("proposal", `yard_id, `+proposalColumns, t.yard, string(p.ID), string(p.Horse), p.Link, p.Name, p.Plan, p.RingIf, ms(p.At),
		p.Hash, code("state of a proposal", p.State), string(p.AnsweredBy), ms(p.AnsweredAt), string(p.EndedBy), ms(p.EndedAt))
}

// SaveProposal changes the state of a proposal and who answered or ended it. Its words stay.
func (t *tx) SaveProposal(p tracker.Proposal) error {
	return t.change("proposal", `UPDATE proposal SET state = $3, answered_by = $4, answered_at = $5, ended_by = $6, ended_at = $7
		WHERE yard_id = $1 AND record_id = $2`, t.yard, string(p.ID), code("state of a proposal", p.State), string(p.AnsweredBy), ms(p.AnsweredAt),
		string(p.EndedBy), ms(p.EndedAt))
}

// CautionCounts tells how many cautions of each rule were raised from an instant on.
func (t *tx) CautionCounts(since time.Time) (map[string]int, error) {
	counts := map[string]int{}
	_, err := list(t, func(r row) (none struct{}, err error) {
		var rule string
		var n int
		err = r.Scan(&rule, &n)
		counts[rule] = n
		return none, err
	}, `SELECT rule, count(*) FROM caution WHERE yard_id = $1 AND raised_at >= $2 GROUP BY rule`, t.yard, ms(since))
	return counts, err
}

// BlindPairs lists second readings that were taken blind from a day on, oldest first, each with what the
// first reading says now. One whose first reading was taken back is left out.
func (t *tx) BlindPairs(from tracker.Date) ([]care.BlindPair, error) {
	seconds, err := list(t, scanCheck, `SELECT `+checkColumns+` FROM leg_check c WHERE c.yard_id = $1 AND c.blind_of <> '' AND c.day >= $2`+
		current("c")+` ORDER BY c.day, c.seen_at, c.root_id`, t.yard, from.String())
	if err != nil || len(seconds) == 0 {
		return nil, err
	}
	firsts, err := list(t, scanCheck, `SELECT `+checkColumns+` FROM leg_check b CROSS JOIN leg_check c
		WHERE b.yard_id = $1 AND b.blind_of <> '' AND b.day >= $2 AND c.yard_id = b.yard_id AND c.root_id = b.blind_of`+current("c"), t.yard, from.String())
	if err != nil {
		return nil, err
	}
	byRoot := make(map[tracker.RecordID]tracker.Check, len(firsts))
	for _, c := range firsts {
		byRoot[c.Root] = c
	}
	var pairs []care.BlindPair
	for _, second := range seconds {
		if first, ok := byRoot[second.Blind]; ok {
			pairs = append(pairs, care.BlindPair{First: first, Second: second})
		}
	}
	return pairs, nil
}
