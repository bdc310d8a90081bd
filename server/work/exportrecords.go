package work

import (
	"cmp"
	"encoding/json"
	"fmt"
	"slices"
	"time"

	"github.com/google/uuid"
	"github.com/paulmach/orb"

	"courson/geo/vine"
	"courson/store"
)

// orderOut is one row of an order.
type orderOut struct {
	Order
	row OrderRow
}

func orderFields() []layerField[orderOut] {
	return []layerField[orderOut]{
		{text("order_id", "Id of the order"), func(o orderOut) any { return o.ID }},
		{text("block", "Code of the block"), func(o orderOut) any { return o.Code }},
		{text("row", "Label of the row"), func(o orderOut) any { return o.row.Label }},
		{whole("season", "Harvest year that the winter's work prepares"), func(o orderOut) any { return o.Season }},
		{text("operation", "Which work"), func(o orderOut) any { return o.Operation }},
		{text("crew", "Who does it"), func(o orderOut) any { return orNothing(o.Crew) }},
		{text("day", "Day of the work; empty: not set"), func(o orderOut) any { return orNothing(o.Day) }},
		{whole("vine_from", "First vine, by number"), func(o orderOut) any { return o.row.From }},
		{whole("vine_to", "Last vine, by number"), func(o orderOut) any { return o.row.To }},
		{text("start", "End at which the walk begins: near is where vine 1 stands"), func(o orderOut) any { return orNothing(o.row.Start) }},
		{text("side", "Side of the row"), func(o orderOut) any { return orNothing(o.row.Side) }},
		{text("state", "open or withdrawn"), func(o orderOut) any { return o.State }},
		{text("note", "What was noted for the crew"), func(o orderOut) any { return orNothing(o.Note) }},
		{text("given_by", "Who gave the order"), func(o orderOut) any { return orNothing(o.By) }},
		{text("given_at", "When, UTC"), func(o orderOut) any { return o.Made.UTC().Format(time.RFC3339) }},
	}
}

func (x *exporter) orders(b store.Block) error {
	list, err := papersOf[Order](x.ctx, x.st, store.PaperQuery{Kind: PaperOrder, Season: x.job.Season})
	if err != nil {
		return err
	}
	rows, err := x.st.Rows(x.ctx, b.ID)
	if err != nil {
		return err
	}
	fields := orderFields()
	for _, o := range list {
		for k, r := range o.Rows {
			at := slices.IndexFunc(rows, func(row store.Row) bool { return row.ID == r.Row })
			if o.Block != b.ID || at < 0 {
				continue
			}
			if err := putAll(x, fields, 0, fmt.Sprintf("%s/%d", o.ID, k+1), orderOut{o, r}, lineOf(rows[at])); err != nil {
				return err
			}
		}
	}
	return nil
}

// recordOut is a record as it is about one vine, or about a whole row or block.
type recordOut struct {
	store.LoggedEvent
	block, row string
	number     int // 0: of the whole row or block
	at         int // place among the vines of the target
	void       bool
	zone       *time.Location
}

func (r recordOut) address() any {
	if r.number == 0 {
		return nil
	}
	return vine.Address{Block: r.block, Row: r.row, Number: r.number}.String()
}

// recordFields are columns of every record; value fields follow them.
func recordFields() []layerField[recordOut] {
	return []layerField[recordOut]{
		{text("address", "block/row/vine; empty: of the whole row or block"), func(r recordOut) any { return r.address() }},
		{text("block", "Code of the block"), func(r recordOut) any { return r.block }},
		{text("row", "Label of the row; empty: of the whole block"), func(r recordOut) any { return orNothing(r.row) }},
		{whole("vine", "Number in the row, 1 at the numbering end"), func(r recordOut) any {
			if r.number == 0 {
				return nil
			}
			return r.number
		}},
		{whole("season", "Harvest year that the record belongs to"), func(r recordOut) any { return r.Season }},
		{text("recorded_at", "When it was seen, in the estate's time"), func(r recordOut) any { return r.When.In(r.zone).Format(time.RFC3339) }},
		{text("recorded_by", "Who recorded it"), func(r recordOut) any { return orNothing(r.By) }},
		{text("device", "Device that made it; import: and the name of a file"), func(r recordOut) any { return r.Device }},
		{text("record_id", "Id of the record"), func(r recordOut) any { return r.ID.String() }},
	}
}

func measureFields() []layerField[recordOut] {
	measure := func(of func(vine.Measure) any) func(recordOut) any {
		return func(r recordOut) any { return of(r.Body.(vine.Measure)) }
	}
	return append(recordFields(),
		layerField[recordOut]{text("quantity", "What was measured"), measure(func(m vine.Measure) any { return string(m.Quantity) })},
		layerField[recordOut]{number("value", "", "In the unit beside it"), func(r recordOut) any { return r.Body.(vine.Measure).For(r.at) }},
		layerField[recordOut]{text("unit", "Unit of the value"), measure(func(m vine.Measure) any { return orNothing(m.Unit) })},
		layerField[recordOut]{text("scale", "Of a score or index; else the unit that it was written in"), measure(func(m vine.Measure) any { return orNothing(m.Scale) })})
}

func logFields() []layerField[recordOut] {
	return append(recordFields(),
		layerField[recordOut]{text("kind", "condition, measure, pruned, work, note or void (takes another record back)"), func(r recordOut) any { return string(r.Kind) }},
		layerField[recordOut]{text("value", "What was recorded, JSON as in the list of events"), func(r recordOut) any { return r.value() }},
		layerField[recordOut]{text("taken_back", "yes where a later record takes it back"), func(r recordOut) any {
			if r.void {
				return "yes"
			}
			return nil
		}},
		layerField[recordOut]{text("received_at", "When it reached the server, UTC"), func(r recordOut) any { return r.Received.UTC().Format(time.RFC3339) }},
		layerField[recordOut]{whole("cursor", "Place in the log"), func(r recordOut) any { return int(r.Cursor) }})
}

// value is the body as JSON; of measures that name many vines that of this one.
func (r recordOut) value() any {
	body := r.Body
	if m, ok := body.(vine.Measure); ok && len(m.Values) > 0 {
		v := m.Values[r.at]
		m.Value, m.Values = &v, nil
		if len(m.Counts) > 0 {
			m.Counts = m.Counts[r.at : r.at+1]
		}
		body = m
	}
	text, err := json.Marshal(body)
	if err != nil { // it came out of JSON
		return nil
	}
	return string(text)
}

// measures writes every measure of the season that holds, vine by vine.
func (x *exporter) measures(b store.Block) error {
	return x.eachRecord(b, func(r recordOut, id string, g orb.Geometry, fields []layerField[recordOut]) error {
		if _, ok := r.Body.(vine.Measure); !ok || r.void {
			return nil
		}
		return putAll(x, fields, 0, id, r, g)
	}, measureFields())
}

// log writes every record of the season, also what was taken back.
func (x *exporter) log(b store.Block) error {
	return x.eachRecord(b, func(r recordOut, id string, g orb.Geometry, fields []layerField[recordOut]) error {
		return putAll(x, fields, 0, id, r, g)
	}, logFields())
}

func (x *exporter) eachRecord(b store.Block, put func(recordOut, string, orb.Geometry, []layerField[recordOut]) error, fields []layerField[recordOut]) error {
	events, err := x.st.Events(x.ctx, store.EventQuery{Block: b.ID, Season: x.job.Season})
	if err != nil || len(events) == 0 {
		return err
	}
	void := map[uuid.UUID][]vine.Target{}
	for _, e := range events {
		if v, ok := e.Body.(vine.Void); ok {
			void[v.Event] = append(void[v.Event], e.Target)
		}
	}
	rows, err := x.st.Rows(x.ctx, b.ID)
	if err != nil {
		return err
	}
	label, vines := labelsOf(rows), map[vine.ID]store.Vine{}
	for v, err := range x.st.Vines(x.ctx, b.ID) {
		if err != nil {
			return err
		}
		vines[v.ID] = v
	}
	for _, e := range events {
		r := recordOut{LoggedEvent: e, block: b.Code, row: label[e.Target.Row], zone: x.zone}
		if len(e.Target.Vines) == 0 {
			r.void = slices.ContainsFunc(void[e.ID], func(t vine.Target) bool { return len(t.Vines) == 0 && (t.Row == 0 || t.Row == e.Target.Row) })
			if err := put(r, e.ID.String(), nil, fields); err != nil {
				return err
			}
		}
		for i, id := range e.Target.Vines {
			v, ok := vines[id]
			if !ok {
				continue // it went, with the import that made it
			}
			r.number, r.at, r.row = v.Number, i, cmp.Or(label[v.Row], r.row)
			place := vine.Place{ID: v.ID, Row: v.Row, Block: v.Block}
			r.void = slices.ContainsFunc(void[e.ID], func(t vine.Target) bool { return t.Covers(place) })
			if err := put(r, fmt.Sprintf("%s/%d", e.ID, id), v.Point, fields); err != nil {
				return err
			}
		}
	}
	return nil
}
