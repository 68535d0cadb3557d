// Package cautions holds the rules that say when a vet must know, as data, and the functions that fire
// them, hold repeats back and choose what is shown.
//
// There are three levels: ring the vet now, ring today, tell the vet at the next visit. A caution is no
// diagnosis: it says what was seen, whose rule it met and what would make it more urgent. What the
// package never does:
//
//   - lower a level. Each rule looks at the facts by itself; nothing is averaged, and a healing label,
//     a reset or a missing answer never takes a caution away.
//   - hold back ring now, except for what the same look has said already, what is still open, and a wound
//     by a joint, which is said once.
//   - hold back a number that is worse than the one somebody acted on, or show an old number alone: see [Met].
//   - weaken a rule for a danger sign. Only rules marked Weaken take settings.
//   - say that all is well. See [NothingMet].
//
// The caller gathers [Facts] about one horse at a save or at a daily look and calls [Fire]. [Hold] says
// of each [Fired] whether it becomes a new tracker.Caution; [Escalate] what happens to one that waits
// for a visit; [Slabs] what the Board shows.
//
// A new rule is one entry in the list of its subject (danger, vital, leg, site, horse) and at least one row
// in testdata/vectors/cautions/urgency.txt on each side of its limit: a rule that no row fires fails a test.
//
// Where a threshold or a rule comes from is written beside it with a [Grade]. Published sources were
// read as excerpts, not as whole papers, and most are advice to owners.
//
// Everything is pure: now is an argument. Words and calendar days are those of now's location, so now
// must be in the yard's zone.
package cautions
