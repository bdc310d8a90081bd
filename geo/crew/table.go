package crew

import "fmt"

// Key names a rate: an operation on vines of one class under one system.
type Key struct {
	Operation string `json:"operation"`
	System    System `json:"system"`
	Class     Class  `json:"class"`
}

// Table is what work takes: the operations with their planning figures, and what
// was learnt from the log. It is never changed after it is made.
type Table struct {
	operations []Operation
	learnt     map[Key]Rate
}

// NewTable checks the operations and makes a table of them. Learnt rates go
// before planning figures; nil: none yet. The error wraps ErrOperation.
func NewTable(operations []Operation, learnt []Rate) (*Table, error) {
	t := &Table{operations: append([]Operation(nil), operations...), learnt: map[Key]Rate{}}
	for i, o := range operations {
		if err := o.Check(); err != nil {
			return nil, err
		}
		for _, other := range operations[:i] {
			if other.Name == o.Name {
				return nil, wrong(ErrOperation, "name", fmt.Sprintf("%q twice", o.Name), "each operation once")
			}
		}
	}
	for _, o := range operations {
		for _, name := range []string{o.After, o.Saves.By} {
			if _, ok := t.Operation(name); name != "" && !ok {
				return nil, wrong(ErrOperation, fmt.Sprintf("operation %q", o.Name), fmt.Sprintf("%q before it", name), "an operation of the list")
			}
		}
	}
	for _, r := range learnt {
		if _, ok := t.Operation(r.Key.Operation); !ok {
			return nil, wrong(ErrOperation, "learnt rate", r.Key.Operation, "an operation of the list")
		}
		if !(r.Factor > 0.01 && r.Factor < 100) {
			return nil, wrong(ErrOperation, fmt.Sprintf("learnt rate of %s", r.Key.Operation), r.Factor, "a factor from 0.01 to 100")
		}
		t.learnt[r.Key] = r
	}
	return t, nil
}

// Operation finds an operation by its name.
func (t *Table) Operation(name string) (Operation, bool) {
	for _, o := range t.operations {
		if o.Name == name {
			return o, true
		}
	}
	return Operation{}, false
}

// Operations gives the operations in their order.
func (t *Table) Operations() []Operation { return append([]Operation(nil), t.operations...) }

// Standard gives the planning figure for a vine, in minutes of one person; 0
// where the operation is not known or not done on such vines. Saved: the
// operation that saves work went before.
func (t *Table) Standard(k Key, saved bool) float64 {
	o, ok := t.Operation(k.Operation)
	if !ok {
		return 0
	}
	m := o.Minutes.of(k.System.Form, k.Class)
	if o.ByVigour {
		m *= VigourFactor(k.Class)
	}
	if saved {
		m *= 1 - o.Saves.of(k.System.Form, k.Class)
	}
	return m
}

// Minutes gives what a vine takes, in minutes of one person: the planning figure
// times what was learnt of this class, else of all classes of the operation and
// system together.
func (t *Table) Minutes(k Key, saved bool) float64 {
	m := t.Standard(k, saved)
	if r, ok := t.learnt[k]; ok {
		return m * r.Factor
	}
	if r, ok := t.learnt[Key{k.Operation, k.System, ClassAll}]; ok {
		return m * r.Factor
	}
	return m
}

// PersonDays turns minutes of work into days of one person who works so many
// hours a day, of which the share efficiency (0 to 1] goes into the vines:
//
//	person-days = minutes / (60 × hours × efficiency)   (common practice)
//
// It is 0 where hours or efficiency are not above 0.
func PersonDays(minutes, hours, efficiency float64) float64 {
	if !(hours > 0 && efficiency > 0) {
		return 0
	}
	return minutes / (60 * hours * efficiency)
}
