package vine

// EstablishedAfter is the last leaf in which a replanted vine is shown as one:
// past its third leaf it bears (common practice; the first commercial crop is
// budgeted in the third leaf).
const EstablishedAfter = 3

// Standing gives the condition to show for a vine in its given leaf (0 unknown):
// a replanted vine that has outgrown its third leaf stands as bearing, although
// nobody has said so. Whatever else was seen, and unseen, stays.
func Standing(c Condition, leaf int) Condition {
	if c == Replanted && leaf > EstablishedAfter {
		return Bearing
	}
	return c
}
