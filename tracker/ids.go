package tracker

// Ids are UUIDv7 in their 36-character text form. Each noun has its own type, so that one cannot be
// passed where another is due. An id is never read as a time.
type (
	// YardID names a yard, the tenant.
	YardID string
	// PersonID names a person, who may belong to several yards.
	PersonID string
	// HorseID names a horse of a yard.
	HorseID string
	// SiteID names a site of a horse for life.
	SiteID string
	// RecordID names one thing a person recorded. It is made when the form is made, on the server or on
	// the phone, so that the same post twice is one record.
	RecordID string
	// CautionID names one caution raised.
	CautionID string
	// PhotoID names one stored photo.
	PhotoID string
	// ReminderID names one message to one person over one channel about one thing.
	ReminderID string
	// ProductID names a product in Stores.
	ProductID string
	// BottleID names one bottle of a product.
	BottleID string
	// MixID names a mix that was made; it is the record id of its form.
	MixID string
)

// ValidID tells whether text has the form of an id: a lower-case UUID of 36 characters.
func ValidID(text string) bool {
	if len(text) != 36 {
		return false
	}
	for i, c := range []byte(text) {
		dash := i == 8 || i == 13 || i == 18 || i == 23
		hex := c >= '0' && c <= '9' || c >= 'a' && c <= 'f'
		if dash != (c == '-') || !dash && !hex {
			return false
		}
	}
	return true
}
