package postgis

// What tests ask the database to explain.
const (
	SQLVines       = vinesOfBlock
	SQLStatesAll   = statesAll
	SQLStatesAfter = statesAfter
	SQLEventsOf    = eventsOfVines
	SQLEventsWhole = eventsOfWhole
)
