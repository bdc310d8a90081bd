package work

import (
	"strconv"
	"strings"

	"courson/geo/format"
	"courson/geo/format/csv"
	"courson/geo/vine"
)

// motherOf reads whose layer line i says that its vine is: a number of the same
// row, or the address of a vine there, as a cane reaches no farther. ok is false
// after a problem, which is told; 0 is no layer. Only a replanted vine is made a
// layer: beside another status our own export repeats what is on record, and where
// it is not (another store, an edited cell) that it is not read is said.
func (w *blockWork) motherOf(rw *rowWork, i, k int, cond vine.Condition, last *baseline) (id vine.ID, ok bool) {
	said := strings.TrimSpace(w.names.text(w.vines.mother.get(i)))
	if said == "" {
		return 0, true
	}
	bad := func(what string) (vine.ID, bool) {
		w.problem(w.at(i), string(csv.Mother), what, format.Quote(said), "the number of another vine of row "+rw.r.Label+", beside the status replant")
		return 0, false
	}
	_, ours := w.exported[int(w.vines.file[i])]
	if cond != vine.Replanted && !ours {
		return bad("a layer that is not told as replanted")
	}
	number := said
	if cut := strings.LastIndex(said, "/"); cut >= 0 {
		if row := said[:cut]; row != rw.r.Label && row != w.b.Code+"/"+rw.r.Label {
			return bad("a mother in another row")
		}
		number = said[cut+1:]
	}
	n, err := strconv.Atoi(number)
	if err != nil {
		return bad("not the number of a vine")
	}
	for j, v := range rw.vines {
		if v.Number != n || j == k {
			continue
		}
		if cond != vine.Replanted && v.ID != last.plant.Mother {
			w.notice(w.at(i), string(csv.Mother), "not read: a vine is made a layer beside the status replant only")
		}
		return v.ID, true
	}
	return bad("no other vine of the row has this number")
}
