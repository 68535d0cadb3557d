package care

import (
	"cmp"
	"math/big"
	"slices"
	"time"

	"leground/tracker"
	"leground/tracker/mixing"
)

// Stores are what the yard has to mix with, what was mixed, and what was done about it.
type Stores interface {
	// Products lists them by name, those that are not bought any more too.
	Products() ([]tracker.Product, error)
	Product(tracker.ProductID) (tracker.Product, error)
	AddProduct(tracker.Product) error
	// SaveProduct changes a product's name, facts and whether it is gone; its label strength stays.
	SaveProduct(tracker.Product) error
	// Bottles lists those that are there, oldest first, with their acts.
	Bottles() ([]tracker.Bottle, error)
	// PastBottles lists a product's bottles that ended, the last ones first and at most 50, without their acts.
	PastBottles(tracker.ProductID) ([]tracker.Bottle, error)
	// Bottle finds one, ended or not, with its acts.
	Bottle(tracker.BottleID) (tracker.Bottle, error)
	// AddBottle adds one, and the acts that it comes with.
	AddBottle(tracker.Bottle) error
	// Mixes lists those that are there and are not thrown away before an instant, newest first, with their acts.
	Mixes(since time.Time) ([]tracker.Mix, error)
	// MixesMade lists those that were made from an instant on, for one horse or for any, newest first,
	// without their acts.
	MixesMade(horse tracker.HorseID, since time.Time) ([]tracker.Mix, error)
	// Mix finds one, ended or not, with its acts.
	Mix(tracker.MixID) (tracker.Mix, error)
	AddMix(tracker.Mix) error
	StoreAct(tracker.RecordID) (tracker.StoreAct, error)
	// AddStoreAct adds an act, and ends its bottle or mix when it is of a kind that does.
	AddStoreAct(tracker.StoreAct) error
	// PutOn lists what was put on in the rounds of a day and what of it was given back, oldest first.
	PutOn(day tracker.Date) ([]tracker.StoreAct, error)
	// Uses lists what went out of bottles into mixes and onto horses from an instant on, oldest first.
	Uses(since time.Time) ([]Use, error)
	// Measures gives the yard's; none is a zero value.
	Measures() (tracker.Measures, error)
	SaveMeasures(tracker.Measures) error
}

// stores is a yard's Stores at an instant, as one person may see them.
type stores struct {
	Moment
	viewer   tracker.PersonID
	names    map[tracker.PersonID]string
	horses   []tracker.Horse
	products []tracker.Product
	bottles  []Stock // oldest first
	mixes    []Stock // newest first
	uses     []Use   // of the last useDays
	measures Measures
	planned  map[tracker.ProductID][]*big.Rat // what plans take, day by day from today; only where supply is asked for

	unpoured  bool                       // plans use a mix that is there, and do not say how much; only where supply is asked for
	uncounted map[tracker.ProductID]bool // plans use it, and how much cannot be counted; only where supply is asked for
}

// Measures are the yard's usual volumes and what it measures with.
type Measures struct {
	Volumes []mixing.Amount
	Devices []mixing.Device
}

// usualVolumes are those of a yard that has not set its own (common practice, no source).
func usualVolumes() []mixing.Amount {
	return []mixing.Amount{mixing.Millilitres(500), mixing.Millilitres(1000)}
}

// keptMixes is how long a mix that is past its time stays on the list, so that somebody throws it away.
const keptMixes = 3 * 24 * time.Hour

// readStores reads a yard's Stores in a number of queries that does not depend on what is in them.
func readStores(tx Tx, a Actor, now time.Time) (*stores, error) {
	s := &stores{viewer: a.Person.ID}
	var e1, e2, e3, e4, e5, e6 error
	s.Moment, e1 = momentOf(tx, now)
	s.names, e2 = names(tx)
	s.horses, e3 = tx.Horses()
	s.products, e4 = tx.Products()
	s.uses, e5 = tx.Uses(now.AddDate(0, 0, -useDays))
	s.measures, e6 = readMeasures(tx)
	bottles, e7 := tx.Bottles()
	mixes, e8 := tx.Mixes(now.Add(-keptMixes))
	if err := cmp.Or(e1, e2, e3, e4, e5, e6, e7, e8); err != nil {
		return nil, err
	}
	for _, b := range bottles {
		stock, err := s.bottle(b)
		if err != nil {
			return nil, err
		}
		s.bottles = append(s.bottles, stock)
	}
	for _, m := range mixes {
		stock, err := s.mix(m)
		if err != nil {
			return nil, err
		}
		s.mixes = append(s.mixes, stock)
	}
	return s, nil
}

func readMeasures(tx Tx) (out Measures, err error) {
	kept, err := tx.Measures()
	if err != nil {
		return out, err
	}
	for _, text := range kept.Volumes {
		volume, err := Amount(text)
		if err != nil {
			return out, err
		}
		out.Volumes = append(out.Volumes, volume)
	}
	if len(kept.Volumes) == 0 {
		out.Volumes = usualVolumes()
	}
	for _, text := range kept.Devices {
		device, err := mixing.ParseDevice(text)
		if err != nil {
			return out, err
		}
		out.Devices = append(out.Devices, device)
	}
	return out, nil
}

// warnsOfFood tells whether a product on a horse wants the warning about the food chain: unless the horse is known
// to be out of it. No horse stands for any of them.
func (s *stores) warnsOfFood(product tracker.Product, horse tracker.HorseID, skin mixing.Skin) bool {
	i := s.horseAt(horse)
	return minded(product) && skin != mixing.NotOnHorse && (i < 0 || s.horses[i].Food != tracker.NotForFood)
}

// horseAt gives a horse's place among all horses, those that left too; -1 when it is none of the yard's.
func (s *stores) horseAt(id tracker.HorseID) int {
	return slices.IndexFunc(s.horses, func(h tracker.Horse) bool { return h.ID == id })
}

// product finds a product by its id; one that is not there is a zero value.
func (s *stores) product(id tracker.ProductID) tracker.Product {
	i := slices.IndexFunc(s.products, func(p tracker.Product) bool { return p.ID == id })
	if i < 0 {
		return tracker.Product{}
	}
	return s.products[i]
}

// find gives the stock that a form names.
func (s *stores) find(key string) (Stock, bool) {
	for _, list := range [][]Stock{s.bottles, s.mixes} {
		for _, one := range list {
			if one.Key == key {
				return one, true
			}
		}
	}
	return Stock{}, false
}
