// Package rounds says what is due when, and who is told.
//
// A yard has slots, local times of day at which its legs are looked at. A round is one slot on one
// local date: it is due at an instant, may be recorded against until the next slot, and ends done,
// part done, skipped with a reason, or without a record. A plan says what is done at which rounds, in
// phases: "twice a day for 7 days, then once a day for 14, then every other day until closed over".
// A reminder is one message to one person about one thing, and every step of its life has a Reason.
//
// # Time
//
// A round is known by its local date and the name of its slot. The instant at which it is due is
// worked out from these and the yard's zone, so that a clock change can neither lose nor double one:
//
//   - A local time that does not exist is read with the offset before the gap, and one that exists
//     twice means the first (RFC 5545, section 3.3.5). RFC 5545 lets a recurring event leave out a
//     time that does not exist (section 3.3.10); a round is never left out.
//   - Two rounds may so fall on one instant. They stay two rounds and are asked for in one message.
//   - Where a zone left out a whole day (Pacific/Apia, 2011-12-30), its rounds fall on the same
//     instants as those of the next day. That is the only case in which one slot's instants do not
//     strictly rise from date to date.
//
// The planner asks [Schedule.Expected] for everything that should exist up to 48 hours ahead, never
// what happened this minute, so that an outage heals itself.
//
// # Messages
//
// [Decide] is a pure function of the round, the person, what has already been sent and the time. Its
// answer is send, wait or drop, always with a named reason. Nothing is ever said about a round after
// its use-by, and a message says "not received yet", never "not done": carers record where there is
// no signal.
//
// Everything here is pure: now and the zone are arguments, nothing is stored and nothing is random.
package rounds
