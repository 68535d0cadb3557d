// Package care is what people may do in a yard: each exported method of Service is one use case, with
// authority checked first, one transaction and one now.
//
// Data flows one way: a request becomes an entry, care checks it and works out what follows (a
// judgement, cautions, reminders), and the store keeps all of it or nothing. Care declares the Store
// that it needs and knows no database, no page and no channel.
package care
