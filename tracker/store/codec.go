package store

import (
	"database/sql"
	"database/sql/driver"
	"encoding/json"
	"fmt"
	"time"

	"leground/tracker"
)

// How values stand in the database. Instants are Unix milliseconds UTC and days are text, so neither
// driver ever sees a time.Time, which both would write in ways of their own. Codes are the words of
// package tracker. Whatever cannot be kept, or read back, is an error and never a zero.

// ms gives the stored form of an instant; 0 for none.
func ms(t time.Time) int64 {
	if t.IsZero() {
		return 0
	}
	return t.UnixMilli()
}

// reader reads one column into something else than a plain number or text.
type reader func(src any) error

// Scan calls the function; it makes a reader an sql.Scanner.
func (r reader) Scan(src any) error { return r(src) }

// asInstant reads what ms wrote.
func asInstant(to *time.Time) reader {
	return func(src any) error {
		n, ok := src.(int64)
		if !ok {
			return fmt.Errorf("%v is not a stored instant", src)
		}
		if *to = (time.Time{}); n != 0 {
			*to = time.UnixMilli(n).UTC()
		}
		return nil
	}
}

// asDay reads a day such as 2026-05-14; the empty text is none.
func asDay(to *tracker.Date) reader { return asCode(to, tracker.ParseDate) }

// asText hands a text to a function.
func asText(read func(string) error) reader {
	return func(src any) error {
		switch v := src.(type) {
		case string:
			return read(v)
		case []byte:
			return read(string(v))
		}
		return fmt.Errorf("%v is not stored text", src)
	}
}

// asWord reads a text of a type of its own, such as an id; NULL is the empty text.
func asWord[T ~string](to *T) reader {
	return func(src any) error {
		if src == nil {
			*to = ""
			return nil
		}
		return asText(func(text string) error { *to = T(text); return nil })(src)
	}
}

// asCode reads a stored code; the empty text is the zero value, which stands for none.
func asCode[T any](to *T, parse func(string) (T, error)) reader {
	return asText(func(text string) (err error) {
		var none T
		if *to = none; text != "" {
			*to, err = parse(text)
		}
		return err
	})
}

// ownWord is a word of a type that knows its own.
type ownWord interface {
	~string
	Known() bool
}

// asKnown reads a word that its type must know.
func asKnown[T ownWord](what string, to *T) reader {
	return asText(func(text string) error {
		if *to = T(text); !(*to).Known() {
			return fmt.Errorf("%q is not a known %s", text, what)
		}
		return nil
	})
}

// asJSON reads a JSON text. Empty lists and maps read as nil, so that what comes out is what went in.
func asJSON(to any) reader {
	return asText(func(text string) error {
		if text == "[]" || text == "{}" {
			return nil
		}
		return json.Unmarshal([]byte(text), to)
	})
}

// value makes a function the value of a column; its error stops the statement.
type value func() (driver.Value, error)

// Value calls the function; it makes a value a driver.Valuer.
func (v value) Value() (driver.Value, error) { return v() }

// code is a code that must be there: the zero value, or one that has no word, is refused.
func code[T fmt.Stringer](what string, v T) value {
	return func() (driver.Value, error) {
		if v.String() == "" {
			return nil, fmt.Errorf("a record without a valid %s (%#v) cannot be kept", what, v)
		}
		return v.String(), nil
	}
}

// known is a word that must be there and that its type must know.
func known[T ownWord](what string, v T) value {
	return func() (driver.Value, error) {
		if !v.Known() {
			return nil, fmt.Errorf("a record without a known %s (%q) cannot be kept", what, string(v))
		}
		return string(v), nil
	}
}

// codeOrNone is a code that may be missing.
func codeOrNone[T interface {
	comparable
	fmt.Stringer
}](what string, v T) value {
	return func() (driver.Value, error) {
		var none T
		if v == none {
			return "", nil
		}
		return code(what, v)()
	}
}

// orderOrNone is a walking order that may be missing; one that is there names each leg once.
func orderOrNone(o tracker.WalkingOrder) value {
	return func() (driver.Value, error) {
		if len(o) == 0 {
			return "", nil
		}
		_, err := tracker.ParseWalkingOrder(o.String())
		return o.String(), err
	}
}

// orNull keeps an empty id as NULL, which refers to nothing.
func orNull[T ~string](id T) value {
	return func() (driver.Value, error) {
		if id == "" {
			return nil, nil
		}
		return string(id), nil
	}
}

// listJSON and mapJSON write JSON; nil is an empty list or map.
func listJSON[T any](list []T) value {
	if len(list) == 0 {
		return func() (driver.Value, error) { return "[]", nil }
	}
	return asJSONText(list)
}

func mapJSON[K ~string, V any](m map[K]V) value {
	if len(m) == 0 {
		return func() (driver.Value, error) { return "{}", nil }
	}
	return asJSONText(m)
}

func asJSONText(v any) value {
	return func() (driver.Value, error) {
		text, err := json.Marshal(v)
		return string(text), err
	}
}

var (
	_ sql.Scanner   = reader(nil)
	_ driver.Valuer = value(nil)
)
