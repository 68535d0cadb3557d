// Package notifytest helps to test the sending of reminders: an outbox in memory, a channel that writes
// down what it is given, and a mail server in the same process that can be told to fail at any step.
// Everything listens on 127.0.0.1 only.
package notifytest
