package frame

// Units of length, area and weight in metres, square metres and kilograms. All
// are exact by definition. Sources: the international yard and pound agreement
// of 1959 (24 FR 5348, US National Bureau of Standards); NIST Special
// Publication 811, 2008, appendix B, for the US survey foot, 1200/3937 m.
const (
	Foot         = 0.3048
	Inch         = 0.0254
	USSurveyFoot = 1200.0 / 3937.0

	Hectare      = 10000.0
	SquareFoot   = Foot * Foot
	Acre         = 43560 * SquareFoot // 4046.8564224
	USSurveyAcre = 43560 * USSurveyFoot * USSurveyFoot

	Pound = 0.45359237
	Ounce = Pound / 16
)
