package notify

import (
	"net/url"
	"strings"
	"unicode"
)

// OneLine makes text that somebody typed fit for one line of a message: line ends and control characters
// become single spaces, marks that turn the reading direction of what follows are dropped, and what is
// longer than limit characters ends in an ellipsis. Right-to-left text is closed in by isolates, so that
// the numbers beside it keep their order. No-break spaces stay: they hold a number and its unit together.
func OneLine(text string, limit int) string {
	var b strings.Builder
	count, gap, rightToLeft := 0, false, false
	for _, r := range strings.ToValidUTF8(text, "\uFFFD") {
		if isGap(r) {
			gap = b.Len() > 0
			continue
		}
		if isDirectionMark(r) {
			continue
		}
		if gap {
			b.WriteByte(' ')
			count, gap = count+1, false
		}
		if count++; count > limit {
			b.WriteRune('…')
			break
		}
		b.WriteRune(r)
		rightToLeft = rightToLeft || unicode.In(r, unicode.Hebrew, unicode.Arabic, unicode.Syriac, unicode.Thaana, unicode.Nko)
	}
	if rightToLeft {
		return "\u2068" + b.String() + "\u2069"
	}
	return b.String()
}

// isGap tells what is read as a space between words.
func isGap(r rune) bool {
	switch r {
	case '\u00A0', '\u202F', '\u2007': // no-break spaces
		return false
	}
	return unicode.IsSpace(r) || unicode.IsControl(r)
}

// isDirectionMark tells the invisible characters that reorder or hide text (Unicode Annex 9).
func isDirectionMark(r rune) bool {
	return r >= '\u200E' && r <= '\u200F' || r >= '\u202A' && r <= '\u202E' || r >= '\u2066' && r <= '\u2069' ||
		r == '\u061C' || r == '\u200B' || r == '\uFEFF'
}

// WebLink gives text back when it is an http or https address that is safe to print on a line of its own;
// else it is empty.
func WebLink(text string) string {
	u, err := url.Parse(text)
	if err != nil || u.Host == "" || u.Scheme != "https" && u.Scheme != "http" || len(text) > 500 ||
		strings.ContainsFunc(text, func(r rune) bool { return r <= ' ' || r > '~' || strings.ContainsRune("<>\"", r) }) {
		return ""
	}
	return text
}

// dialable gives a number to ring as a phone can dial it: its digits, with a leading plus if it has one.
func dialable(number string) string {
	var b strings.Builder
	for _, r := range number {
		if r >= '0' && r <= '9' || r == '+' && b.Len() == 0 {
			b.WriteRune(r)
		}
		if b.Len() == 20 {
			break
		}
	}
	return b.String()
}
