// Package tracker holds the nouns of a leg round and their words: yard, person, horse, leg, site,
// check, sign, caution, product, mix, plan, round, reminder.
//
// A carer walks the legs of a horse in the same order every day. What is seen once per leg is a leg
// line; what is seen on one sore is a site card. A site is a place with a tag for life ("RH 2") and
// is either a wound, open skin with an edge that is judged by its size, or a patch, spread-out
// dermatitis that is judged by its signs. Every look is a check, and no check is ever overwritten:
// a correction or a retraction is a further version of it.
//
// The package is pure. It knows horses, numbers and calendar days; it knows no clock, no database,
// no network and no randomness. Its subpackages are pure too, apart from care (what people may do)
// and store (where it is kept):
//
//	healing   size, rate and label of a site
//	cautions  the rules that say when to ring the vet
//	mixing    strengths, dilutions and amounts in exact numbers
//	rounds    what is due when, and who is told
package tracker
