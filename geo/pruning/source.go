package pruning

// Where the figures are from, as Explain names them.
const (
	srcOhio       = "Smith M., 2023 Grape Pruning Primer, Ohio State University"
	srcNZ         = "Practical Winery & Vineyard in Wines & Vines, June 2017, p. 56-58 (New Zealand pruning and vine balance)"
	srcUK         = "Factors to be taken into account when pruning, WineSkills (UK)"
	srcShape      = "Plant shape, WineSkills (UK); Smart R., Practical Winery & Vineyard, July 2013"
	srcPurdue     = "Double pruning grapevines for spring frost protection, Purdue Extension"
	srcThick      = "Fruiting vines: training from year 3 onwards, Winegrowers Supplies (UK)"
	srcSpan       = "Naylor A., interview, winetitles (spacing, gap and buds per cane)"
	srcBeyond     = "Growing table grapes in a temperate climate (cut 2 cm beyond the last node)"
	srcYoung      = "Pate D. et al., Texas Vineyard Budgets, Texas Tech T-1-602; Giese G., New Mexico State University; shares: common practice"
	srcPractice   = "common practice"
	srcMemory     = "from memory"
	srcOwner      = "the block's standards"
	srcAgronomist = "the agronomist"
	srcArithmetic = "arithmetic"
)
