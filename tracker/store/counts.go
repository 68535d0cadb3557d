package store

import (
	"context"
	"sync/atomic"
)

// Counts is how much work a database was given, so that a test can hold a page to a fixed number of
// queries. Transactions that were tried again count each time.
type Counts struct {
	Transactions, Statements, Rows atomic.Int64 // Rows: read by us
}

type countsKey struct{}

// Counting gives a context whose transactions are counted in c.
func Counting(ctx context.Context, c *Counts) context.Context {
	return context.WithValue(ctx, countsKey{}, c)
}

func countsIn(ctx context.Context) *Counts {
	c, _ := ctx.Value(countsKey{}).(*Counts) // nil when nobody counts
	return c
}

func (c *Counts) add(transactions, statements, rows int) {
	if c != nil {
		c.Transactions.Add(int64(transactions))
		c.Statements.Add(int64(statements))
		c.Rows.Add(int64(rows))
	}
}
