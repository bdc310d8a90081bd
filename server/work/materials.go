package work

import (
	"context"
	"fmt"
	"strings"
	"time"

	"courson/store"
)

// PaperMaterials is the kind of paper that keeps the estate's own materials.
const PaperMaterials store.PaperKind = "materials"

const (
	materialsKey  = "own"
	mostMaterials = 200
)

type materialList struct {
	Own []OwnMaterial `json:"own"`
}

// OwnMaterials gives the materials that an estate added to the list.
func OwnMaterials(ctx context.Context, st store.Plans) ([]OwnMaterial, error) {
	papers, err := st.Papers(ctx, store.PaperQuery{Kind: PaperMaterials, Key: materialsKey})
	if err != nil || len(papers) == 0 {
		return nil, err
	}
	var list materialList
	err = strictly(papers[0].Value, &list, ErrRates)
	return list.Own, err
}

// SaveMaterials puts a list in the place of the one before. Errors wrap ErrRates.
func SaveMaterials(tx store.Tx, list []OwnMaterial, by string, now time.Time) error {
	if len(list) > mostMaterials {
		return fmt.Errorf("%w: %d materials, at most %d", ErrRates, len(list), mostMaterials)
	}
	names := map[string]bool{}
	for i := range list {
		m := &list[i]
		if m.Name = strings.TrimSpace(m.Name); names[strings.ToLower(m.Name)] {
			return fmt.Errorf("%w: rates.own.name: there are two materials called %q", ErrRates, m.Name)
		}
		names[strings.ToLower(m.Name)] = true
		if err := m.check(); err != nil {
			return err
		}
	}
	return savePaper(tx, store.Paper{Kind: PaperMaterials, Key: materialsKey, By: by, Made: now}, materialList{list})
}

// check refuses a material that no rate could be worked out for.
func (o *OwnMaterial) check() error {
	m, err := o.material()
	if err != nil {
		return err
	}
	switch {
	case len(o.Name) > 80:
		return fmt.Errorf("%w: rates.own.name: %d bytes, at most 80", ErrRates, len(o.Name))
	case m.Unit.Quantity() == 0:
		return fmt.Errorf("%w: rates.own.unit: found %q, wanted a unit of rates such as kg/ha", ErrRates, o.Unit)
	}
	return nil
}
