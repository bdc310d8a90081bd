package replant

// Where the figures are from.
const (
	srcCount     = "Determining the number of replacement vines, Oenopedia"
	srcNormal    = "Why is replacement planting necessary? and Normal annual percentage, Oenopedia"
	srcRule2005  = "La Vigne (archive), article VI1322116052, on the missing-vine rule of 2005"
	srcPerHl     = "La Vigne no. 222, article VI22200903"
	srcSuccess   = "Improving the success rate of dead vine replacement, IVES Technical Reviews, article 8486, 2025"
	srcSurvival  = "GiESCO 2023 conference abstract of the same team, ives-openscience.eu/35158"
	srcCost      = "La Vigne no. 248, article VI24803401 (replacement cost), 2012"
	srcCharente  = "Le Paysan Vigneron, interplanting, 2009"
	srcLeafroll  = "Atallah S. et al., Am. J. Enol. Vitic. 63:73, 2012"
	srcRedBlotch = "Ricketts K. et al., Am. J. Enol. Vitic. 68:127-135, 2017"
	srcNursery   = "A California grapevine nursery's questions page"
	srcPractice  = "common practice"
	srcMemory    = "from memory"
	srcOurs      = "chosen by us"
)
