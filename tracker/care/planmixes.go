package care

import (
	"context"

	"leground/tracker"
)

// PlannedMix is a wash that a plan asks for today, and how it is made now.
type PlannedMix struct {
	Horse  string
	Words  string
	Doubt  string // that nobody has read the plan back; empty: somebody has
	Ask    MixAsk // what the page for mixing starts from
	Worked *WorkedMix
}

// PlannedMixes lists the washes that plans ask for today, by horse in walking order, each step once.
func (s *Service) PlannedMixes(ctx context.Context, a Actor) ([]PlannedMix, error) {
	now := s.now()
	var out []PlannedMix
	err := s.store.Read(ctx, a.Yard, func(tx Tx) error {
		out = nil
		st, err := readYard(tx, a, now)
		if err != nil {
			return err
		}
		if st.planned, err = readPlanned(tx, st.Today); err != nil {
			return err
		}
		asked, _ := st.ask(st.Today, st.Today) // the Due list says which plans are in trouble
		shelf, err := readStores(tx, a, now)
		if err != nil {
			return err
		}
		for _, horse := range st.horses {
			seen := map[string]bool{}
			for _, t := range asked {
				if t.Plan.Horse != horse.ID || t.Step.Kind != tracker.StepWash || t.Step.Strength == "" || seen[t.Step.ID] {
					continue
				}
				seen[t.Step.ID] = true
				wanted, err := mixWanted(t)
				if err != nil {
					return err
				}
				worked := shelf.worked(wanted)
				out = append(out, PlannedMix{Horse: horse.Name, Words: st.wordsFor(*t.Plan, t.Step), Doubt: doubtOf(*t.Plan, shelf.names), Ask: mixAskOf(t, st.Yard.Mark), Worked: &worked})
			}
		}
		return nil
	})
	return out, err
}
