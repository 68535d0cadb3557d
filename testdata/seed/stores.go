package seed

import (
	"errors"
	"fmt"
	"strings"
	"time"

	"leground/tracker"
	"leground/tracker/care"
	"leground/tracker/mixing"
)

// wash is what the yard washes with from a day on, and how much it mixes each morning.
type wash struct {
	from                                int
	label, of, name, holds, want, makes string
	bottle                              tracker.BottleID // once it is in Stores
	mix                                 tracker.RecordID // of the day before
}

// forMix is how long it takes to mix a wash.
const forMix = 4 * time.Minute

func readWash(rest string) (*wash, error) {
	f := fields{strings.Fields(rest), nil}
	w := &wash{from: f.whole()}
	parts := strings.Split(f.rest(), "; ")
	if len(parts) != 6 {
		return nil, errors.New("a wash needs its label, substance, name, what the bottle holds, the strength wanted and how much is made")
	}
	w.label, w.of, w.name, w.holds, w.want, w.makes = parts[0], parts[1], parts[2], parts[3], parts[4], parts[5]
	return w, f.err
}

// prepare puts the wash into Stores on its first day, and mixes some each morning.
func (r *round) prepare() error {
	w := r.story.wash
	if w == nil || r.day < w.from || r.index > 0 {
		return nil
	}
	if r.day == w.from {
		if err := r.stock(w); err != nil {
			return fmt.Errorf("stores: %w", err)
		}
	}
	if err := r.mixWash(w); err != nil {
		return fmt.Errorf("wash: %w", err)
	}
	return nil
}

// stock adds the product, its bottle, and what it is measured with. Both people read the label.
func (r *round) stock(w *wash) error {
	of, err := mixing.FindSubstance(w.of)
	if err != nil {
		return err
	}
	label, err := mixing.ParseStrength(w.label, of)
	if err != nil {
		return err
	}
	holds, err := mixing.ParseAmount(w.holds)
	if err != nil {
		return err
	}
	measures := care.Measures{Volumes: []mixing.Amount{mixing.Millilitres(500), mixing.Millilitres(1000)}}
	for _, text := range r.story.measures {
		device, err := mixing.ParseDevice(text)
		if err != nil {
			return err
		}
		measures.Devices = append(measures.Devices, device)
	}
	owner, carer := r.people[0], r.people[1]
	product, bottle := care.NewRecord(), care.NewRecord()
	w.bottle = tracker.BottleID(bottle)
	if err := r.service.SetMeasures(r.ctx, owner, measures); err != nil {
		return err
	}
	facts := tracker.ProductFacts{Form: mixing.Solution.String(), Cautions: r.story.cautions}
	if err := r.service.AddProduct(r.ctx, owner, care.Form{Record: product}, tracker.Product{Name: w.name, Label: care.ExactStrength(label), Facts: facts}); err != nil {
		return err
	}
	in := care.NewBottle{Product: tracker.ProductID(product), Size: holds, Strength: w.label}
	if err := r.service.AddBottle(r.ctx, owner, care.Form{Record: bottle}, in); err != nil {
		return err
	}
	r.pass(forMix)
	if err := r.service.ActOnBottle(r.ctx, carer, care.Form{Record: care.NewRecord()}, w.bottle, tracker.StoreAct{Kind: tracker.LabelRead}, w.label); err != nil {
		return err
	}
	return r.plan(w, tracker.ProductID(product))
}

// mixWash throws yesterday's away and makes a new one, with every check answered.
func (r *round) mixWash(w *wash) error {
	if w.mix != "" {
		away := tracker.StoreAct{Kind: tracker.ThrownAway}
		if err := r.service.ActOnMix(r.ctx, r.actor, care.Form{Record: care.NewRecord()}, tracker.MixID(w.mix), away); err != nil {
			return err
		}
	}
	r.pass(forMix)
	w.mix = care.NewRecord()
	key := "bottle:" + string(w.bottle)
	ask := care.MixAsk{Stock: key, Says: key, Want: w.want, Make: w.makes, Kind: mixing.MakeUpTo, Devices: r.story.measures, Diluent: mixing.BoiledWater}
	view, err := r.service.Mixing(r.ctx, r.actor, ask, w.mix, true)
	if err != nil {
		return err
	}
	if view.Work.Result.Refused() {
		return errors.New(view.Work.Result.Refusals[0].Text)
	}
	in := care.Mixed{Ask: ask, Choice: view.Work.Check.Right, Shown: view.Work.Shown}
	for _, note := range view.Work.Result.Warnings {
		in.Ticks = append(in.Ticks, note.Text)
	}
	return r.service.RecordMix(r.ctx, r.actor, care.Form{Record: w.mix}, in)
}
