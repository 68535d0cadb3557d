package care

import (
	"cmp"
	"context"
	"errors"
	"slices"
	"strings"
	"time"

	"leground/tracker"
)

const (
	vetLinkLife   = 14 * 24 * time.Hour
	photosOnSheet = 4
	mostQuestion  = 500
	mostSaid      = 2000 // letters of plan text and of a rule
	sayingsShown  = 50
	liveProposals = 20 // that may wait for an answer for one horse: a link is open to whoever has it
)

// errDeadLink is the answer for a link that never was, has been stopped or is too old: which of them is
// nobody's business.
var errDeadLink = tracker.Refuse(tracker.NotFound, "This link opens nothing, or nothing any more. Ask the yard for a new one.")

// MakeVetLink makes a link by which a vet sees one horse for two weeks without an account. Only its secret is
// given, once. question is what the yard wants to know, photos the picked ones.
func (s *Service) MakeVetLink(ctx context.Context, a Actor, horse tracker.HorseID, question string, photos []tracker.PhotoID) (token string, err error) {
	token, hash := newToken()
	err = s.owning(ctx, a, func(tx Tx, now time.Time) error {
		var p tracker.Problems
		checkText(&p, "ask", question, mostQuestion)
		if len(photos) > photosOnSheet {
			p.Add("photo", "At most 4 photos fit on the sheet. Take some ticks away.")
		}
		if err := p.Err(); err != nil {
			return err
		}
		if _, err := tx.Horse(horse); err != nil {
			return err
		}
		for _, id := range photos {
			photo, err := tx.Photo(id)
			if err != nil {
				return err
			}
			if photo.Horse != horse {
				return tracker.Refuse(tracker.NotFound, "One of the photos is of another horse. Load the page again.")
			}
		}
		link := Link{ID: NewID(), TokenHash: hash, Kind: VetLink, Yard: a.Yard, Role: tracker.Vet, Horse: horse, Note: strings.TrimSpace(question),
			Photos: photos, MadeBy: a.Person.ID, MadeAt: now, ExpiresAt: now.Add(vetLinkLife)}
		if err := tx.AddLink(link); err != nil {
			return err
		}
		return note(tx, a, now, "vet link made", link.ID, string(horse))
	})
	return token, err
}

// VetSide is what the owner sees of links and of what vets wrote.
type VetSide struct {
	Links   []Link             // to this horse that still open, newest first
	History []tracker.Proposal // newest first
}

// VetSide gives the links to a horse and everything that was written by them.
func (s *Service) VetSide(ctx context.Context, a Actor, horse tracker.HorseID) (VetSide, error) {
	return reading(ctx, s, a.Yard, func(tx Tx, now time.Time) (VetSide, error) {
		links, e1 := tx.Links(now)
		history, e2 := tx.ProposalHistory(horse, sayingsShown)
		links = slices.DeleteFunc(links, func(l Link) bool { return l.Kind != VetLink || l.Horse != horse })
		return VetSide{links, history}, cmp.Or(e1, e2)
	})
}

// vetLink finds a live link to a horse.
func (s *Service) vetLink(ctx context.Context, token string) (Link, error) {
	link, err := s.findLink(ctx, token)
	if tracker.KindOf(err) == tracker.NotFound || err == nil && link.Kind != VetLink {
		return Link{}, errDeadLink
	}
	return link, err
}

// OpenVetLink gives the sheet that a link opens, and notes that it was opened.
func (s *Service) OpenVetLink(ctx context.Context, token string) (SheetView, Link, error) {
	link, err := s.vetLink(ctx, token)
	if err != nil {
		return SheetView{}, link, err
	}
	view, err := s.sheet(ctx, link.Yard, link.Horse, "")
	if err != nil {
		return view, link, err
	}
	view.MadeBy = view.People[link.MadeBy]
	return view, link, s.store.Across(ctx, func(g Gate) error { return g.SetLinkOpened(link.ID, s.now()) })
}

// PhotoByLink gives a picture of the link's horse, or its thumbnail.
func (s *Service) PhotoByLink(ctx context.Context, token string, id tracker.PhotoID, thumb bool) ([]byte, error) {
	link, err := s.vetLink(ctx, token)
	if err != nil {
		return nil, err
	}
	data, err := reading(ctx, s, link.Yard, func(tx Tx, _ time.Time) ([]byte, error) {
		photo, err := tx.Photo(id)
		if err == nil && photo.Horse != link.Horse {
			err = errDeadLink
		}
		if err != nil {
			return nil, err
		}
		return tx.PhotoBytes(id, thumb)
	})
	if tracker.KindOf(err) == tracker.NotFound {
		err = errDeadLink
	}
	return data, err
}

// Propose keeps what a vet wrote by a link. Nothing follows from it before an owner accepts it. The same
// record twice is one proposal.
func (s *Service) Propose(ctx context.Context, token string, in tracker.Proposal) error {
	link, err := s.vetLink(ctx, token)
	if err != nil {
		return err
	}
	in.Horse, in.Link, in.State = link.Horse, link.ID, tracker.Waiting
	in.AnsweredBy, in.AnsweredAt, in.EndedBy, in.EndedAt = "", time.Time{}, "", time.Time{}
	return s.keepProposal(ctx, link.Yard, in, func(tx Tx, now time.Time) error {
		live, err := tx.Links(now)
		if err != nil {
			return err
		}
		if !slices.ContainsFunc(live, func(l Link) bool { return l.ID == link.ID }) {
			return errDeadLink // it was stopped a moment ago
		}
		said, err := tx.Proposals(link.Horse)
		if err != nil {
			return err
		}
		said = slices.DeleteFunc(said, func(p tracker.Proposal) bool { return p.State != tracker.Waiting })
		if len(said) >= liveProposals {
			return tracker.Refuse(tracker.Unavailable, "The yard has not read what was written before. Ring them.")
		}
		return nil
	})
}

// WriteDown keeps what the vet said, as the owner wrote it down: it is in force at once.
func (s *Service) WriteDown(ctx context.Context, a Actor, in tracker.Proposal) error {
	if err := a.may(tracker.Owner); err != nil {
		return err
	}
	in.Link, in.State, in.AnsweredBy, in.AnsweredAt = "", tracker.Accepted, a.Person.ID, s.now()
	return s.keepProposal(ctx, a.Yard, in, func(tx Tx, now time.Time) error {
		if _, err := tx.Horse(in.Horse); err != nil {
			return err
		}
		return note(tx, a, now, "vet's word written down", string(in.ID), in.Name)
	})
}

func (s *Service) keepProposal(ctx context.Context, yard tracker.YardID, in tracker.Proposal, before func(Tx, time.Time) error) error {
	in.Name, in.Plan, in.RingIf = strings.TrimSpace(in.Name), strings.TrimSpace(in.Plan), strings.TrimSpace(in.RingIf)
	var p tracker.Problems
	checkRecord(&p, in.ID)
	checkName(&p, "name", in.Name, "Who says so")
	checkText(&p, "plan", in.Plan, mostSaid)
	checkText(&p, "ring_if", in.RingIf, mostSaid)
	if in.Plan == "" && in.RingIf == "" {
		p.Add("plan", "Write a plan, or when you want to be rung, like: ring me if it grows for a week.")
	}
	if err := p.Err(); err != nil {
		return err
	}
	now := s.now()
	in.At = now
	return s.store.Write(ctx, yard, func(tx Tx) error {
		have, err := tx.ProposalByRecord(in.ID)
		again, err := sentBefore(have.Hash == in.Hash, err)
		if errors.Is(err, ErrOtherContent) { // nobody keeps what comes by a link beside it
			return tracker.Refuse(tracker.Conflict, "This form was sent before with other words, and those were kept. Open the page again to send these too.")
		}
		if again || err != nil {
			return err
		}
		if err := before(tx, now); err != nil {
			return err
		}
		return tx.AddProposal(in)
	})
}

// AnswerProposal accepts or declines what a vet wrote, or ends what was accepted. The answer once given stays.
func (s *Service) AnswerProposal(ctx context.Context, a Actor, id tracker.RecordID, answer tracker.ProposalState) error {
	return s.owning(ctx, a, func(tx Tx, now time.Time) error {
		p, err := tx.ProposalByRecord(id)
		if err != nil {
			return err
		}
		switch {
		case p.State == answer:
			return nil // the same answer twice
		case p.State == tracker.Waiting && (answer == tracker.Accepted || answer == tracker.Declined):
			p.AnsweredBy, p.AnsweredAt = a.Person.ID, now
		case p.State == tracker.Accepted && answer == tracker.Ended:
			p.EndedBy, p.EndedAt = a.Person.ID, now
		default:
			return tracker.Refuse(tracker.Conflict, "This was answered before. Load the page again to see how.")
		}
		p.State = answer
		if err := tx.SaveProposal(p); err != nil {
			return err
		}
		return note(tx, a, now, "proposal "+answer.String(), string(id), p.Name)
	})
}
