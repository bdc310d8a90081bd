package postgis

// How records are looked up by lists of ids ($2, after the estate, $1).
//
// Every index leads with the estate, so any of them finds all records of an
// estate, and a planner that takes the estate for small may well read it from
// end to end for each join. It can be wrong about that: it plans once for many
// executions, and an import fills an empty estate within one transaction. So the
// queries leave it no choice: for each id, one probe of the index that is meant.
// OFFSET 0 keeps the probe from being turned back into a join.
//
// The migrations do their part by keeping statistics off estate_id: every estate
// is taken for the same small part of the table, never for empty.
const (
	// The revision of a block that was dropped stays.
	blocksIn = ` FROM block_revision b WHERE b.estate_id = $1 AND b.block_id = ANY($2)
		AND EXISTS (SELECT FROM block k WHERE k.estate_id = $1 AND k.block_id = b.block_id)`

	rowsIn = ` FROM unnest($2::bigint[]) AS w(id) CROSS JOIN LATERAL (
		SELECT *, ctid FROM vine_row WHERE estate_id = $1 AND row_id = w.id OFFSET 0) r`

	vinesIn = ` FROM unnest($2::bigint[]) AS w(id) CROSS JOIN LATERAL (
		SELECT *, ctid FROM vine WHERE estate_id = $1 AND vine_id = w.id OFFSET 0) v`

	vinesOfRows = ` FROM unnest($2::bigint[]) AS w(id) CROSS JOIN LATERAL (
		SELECT * FROM vine WHERE estate_id = $1 AND row_id = w.id OFFSET 0) v`

	vinesOfBlockRows = ` FROM (SELECT row_id AS id FROM vine_row WHERE estate_id = $1 AND block_id = $2 OFFSET 0) w CROSS JOIN LATERAL (
		SELECT * FROM vine WHERE estate_id = $1 AND row_id = w.id OFFSET 0) v`

	statesOfVines = ` FROM unnest($2::bigint[]) AS w(id) CROSS JOIN LATERAL (
		SELECT * FROM vine_state WHERE estate_id = $1 AND vine_id = w.id OFFSET 0) s`

	eventsKnown = ` FROM unnest($2::uuid[]) AS w(id) CROSS JOIN LATERAL (
		SELECT * FROM event WHERE estate_id = $1 AND event_id = w.id OFFSET 0) e`

	// ofRow and ofBlock add the row and the block of a vine v.
	ofRow = ` CROSS JOIN LATERAL (
		SELECT label, ord FROM vine_row WHERE estate_id = $1 AND row_id = v.row_id OFFSET 0) r`

	ofBlock = ` CROSS JOIN LATERAL (
		SELECT code, planted FROM block WHERE estate_id = $1 AND block_id = v.block_id OFFSET 0) b`

	// eventAt adds the event at a place c.cursor in the log.
	eventAt = ` CROSS JOIN LATERAL (
		SELECT * FROM event WHERE estate_id = $1 AND cursor = c.cursor OFFSET 0) e`
)
