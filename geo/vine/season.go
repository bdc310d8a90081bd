package vine

import "time"

// Seasons outside this span are taken for slips.
const (
	MinSeason = 1850
	MaxSeason = 2200
)

// Calendar turns days into seasons for one estate.
type Calendar struct {
	// TurnMonth is the month on whose first day, after leaf fall, the next
	// season begins: 11 in the north, 5 in the south (common practice; leaf
	// fall is about November and May).
	TurnMonth time.Month
	// Zone is where the estate's clocks stand; nil means UTC.
	Zone *time.Location
}

// Hemisphere gives the usual calendar: turn in November north of the equator,
// in May south of it.
func Hemisphere(south bool, zone *time.Location) Calendar {
	if south {
		return Calendar{TurnMonth: time.May, Zone: zone}
	}
	return Calendar{TurnMonth: time.November, Zone: zone}
}

// Season gives the harvest year that a day belongs to: from the turn day on,
// the next harvest. North: 12 January 2027 → 2027, 5 December 2026 → 2027.
// South: 10 July 2027 → 2028, 10 March 2028 → 2028.
func (c Calendar) Season(day time.Time) int {
	if c.Zone != nil {
		day = day.In(c.Zone)
	} else {
		day = day.UTC()
	}
	if day.Month() >= c.TurnMonth {
		return day.Year() + 1
	}
	return day.Year()
}

// Leaf gives which growing season of its life a plant is in: 1 in its first.
// It is 0 when the plant was not yet there or its planting season is unknown.
func Leaf(planted, season int) int {
	if planted <= 0 || season < planted {
		return 0
	}
	return season - planted + 1
}
