package rate

// Kind is a kind of material; it decides which cautions are shown.
type Kind uint8

// The kinds.
const (
	Other Kind = iota
	Nitrogen
	Compost
	Mulch
	Lime
	Water
	Seed
	Shoots
	PlantProtection
)

var kindWords = [...]string{"other", "nitrogen", "compost", "mulch", "lime", "water", "cover-crop seed", "shoots kept", "plant protection"}

// String gives the words.
func (k Kind) String() string { return kindWords[min(int(k), len(kindWords)-1)] }

// MarshalText gives the words.
func (k Kind) MarshalText() ([]byte, error) { return []byte(k.String()), nil }

// Material is something whose rate is varied. The list of an estate starts from
// Materials and takes its own ones.
type Material struct {
	Key  string `json:"key"`
	Name string `json:"name"`
	Kind Kind   `json:"kind"`
	Unit Unit   `json:"unit"` // of Least and Most, and of rates unless a request names another
	// Least and Most are the limits of any rate; Most 0: none.
	Least  float64 `json:"least"`
	Most   float64 `json:"most"`
	Source string  `json:"source"` // of the limits
	// NKgPerT is nitrogen in kg per tonne, or per m³ of a liquid; 0: none. All of
	// it counts against nitrogen limits.
	NKgPerT float64 `json:"n_kg_per_t"`
	// NShare is the share of that nitrogen that vines get in the year, 0 to 1.
	NShare float64 `json:"n_share"`
	// Weak says what evens a block out: 1 more of it for weak vines, -1 less, 0
	// not known.
	Weak  int     `json:"weak"`
	Price float64 `json:"price"` // of a kg, l or piece; 0 not known
	Label *Label  `json:"label"` // of plant protection; nil: not entered
}

// Label is what the label of a plant-protection product allows, in the
// material's unit.
type Label struct {
	Product string  `json:"product"`
	Least   float64 `json:"least"`
	Most    float64 `json:"most"` // of one application
}

// Materials is the list that an estate starts from. Limits are the highest rates
// of trials on record, to be replaced by those that hold where the estate is.
func Materials() []Material {
	return []Material{
		{Key: "nitrogen", Name: "Nitrogen", Kind: Nitrogen, Unit: KgPerHa, Most: 120, NKgPerT: 1000, NShare: 1, Weak: 1,
			Source: "highest rate of the Barbera trial (Managing vineyard variability by variable rate fertilization, Infowine/Enoforum, 2019)"},
		{Key: "compost", Name: "Compost", Kind: Compost, Unit: TPerHa, Most: 18, NShare: 0.2, Weak: 1,
			Source: "8 tons/acre, highest rate of a trial in Napa (Winegrowing, 1998); nitrogen in the first year 10 to 30 %, from memory"},
		{Key: "mulch", Name: "Mulch", Kind: Mulch, Unit: M3PerHa, Weak: 1},
		{Key: "lime", Name: "Lime", Kind: Lime, Unit: TPerHa},
		{Key: "water", Name: "Water", Kind: Water, Unit: Millimetre, Weak: 1},
		{Key: "seed", Name: "Cover-crop seed", Kind: Seed, Unit: KgPerHa, Weak: -1},
		{Key: "shoots", Name: "Shoots kept", Kind: Shoots, Unit: PerM, Weak: -1},
	}
}

// Cautions are shown on page, file and print wherever rates of the material
// are.
func Cautions(m Material) []string {
	out := []string{"Rates are planning figures: product labels, local nutrient and water rules and a licensed adviser decide."}
	nitrates := "Nitrate-vulnerable zones in the EU: nitrogen from manure at most 170 kg/ha a year; closed periods; own rules for slopes, water edges, frozen or soaked ground (Nitrates Directive)."
	switch m.Kind {
	case Nitrogen:
		out = append(out, nitrates, "Fertiliser may fall under a certified nutrient plan.",
			"Integrated production: at most 5 kg N per ha and year for each tonne of grapes; appellation rules may cap nitrogen lower (IOBC-WPRS guideline, grapes).")
	case Compost, Mulch:
		out = append(out, nitrates, "Too much nitrogen from compost is hard to undo; organic nitrogen counts over three years, so take off what earlier years still release (Penn State, 2003; IOBC-WPRS).",
			"Layers: compost 25 mm, 50 at most; mulch 50 to 75 mm, 100 at most. Take care on young vines; do not spread after veraison (Ontario OMAFRA; a supplier's guide, New Zealand).")
	case Lime:
		out = append(out, "Lime by soil test of each zone: pH is slow to turn back (common practice).")
	case Water:
		out = append(out, "Irrigation and groundwater permits limit the total of the block, not the zone. Organic and appellation rules can ban irrigation of bearing vines.")
	case Shoots:
		out = append(out, "What the vine can carry decides vine by vine; a zone gives the mean only.")
	case PlantProtection:
		out = append(out, "A rate outside the label, or a use that is not on it, can be an offence. Check interval, buffer strips and weather before spraying, and wear the protection that the label asks for.")
	}
	if m.Kind == Nitrogen || m.Kind == Lime || m.Kind == Compost || m.Kind == Mulch || m.Kind == Seed {
		out = append(out, "Spreading on slopes, turning and loading carry machinery hazards: keep people away from the machine.")
	}
	return out
}

// Record is rates of a trial or rule, for zones of low, medium and high vigour.
type Record struct {
	Text   string  `json:"text"`
	Unit   Unit    `json:"unit"`
	Low    float64 `json:"low"`
	Medium float64 `json:"medium"`
	High   float64 `json:"high"`
	Source string  `json:"source"`
}

// OnRecord lists rates that were tried, to start from.
func OnRecord() []Record {
	const infowine = "Managing vineyard variability by variable rate fertilization, Infowine/Enoforum, 2019"
	const ontario = "Adding compost to grapes, Ontario OMAFRA"
	const goals = "Growing table grapes in a temperate climate: to enlarge, hold, shrink vines, 100, 60, 30 lb/acre"
	return []Record{
		{"Barbera, Italy, urea, by a canopy index", KgPerHa, 120, 60, 0, infowine},
		{"Barbera, Italy, slow-release 13-5-21", KgPerHa, 80, 40, 0, infowine},
		{"Nitrogen to change the size of vines", LbPerAcre, 100, 60, 30, goals},
		{"Most vineyards, Ontario, uniform", LbPerAcre, 30, 30, 30, ontario},
	}
}
