package vine

// Fold works out a vine's life from its events. Events that do not cover the
// place are passed over, an event given twice counts once, and neither the
// order of the slice nor its split into batches matters: the same set of events
// always gives the same life. Order in time is by When, except that events of
// one device never change places against their Seq. The slice is not changed.
//
// Cost is n log n in the events; it allocates little for a handful of events.
func Fold(p Place, events []Event) Life {
	return Life{}
}
