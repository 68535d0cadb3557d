// Package push wakes a phone through the push service of its browser (Web Push: RFC 8030, RFC 8291,
// RFC 8292). A message is small, is dropped by the service after its use-by or four hours, and replaces
// an earlier one about the same yard and slot, so that a phone that was off shows one and not three. No
// horse is named unless the person allowed names on the lock screen: that is decided where the words are
// composed.
//
// A subscription comes from a browser, so its address is treated as a stranger's: see notify.Guard.
package push
