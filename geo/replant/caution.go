package replant

// Cautions are to be shown with every replant plan, order and walking list.
func Cautions() []string {
	return []string{
		"These are planning figures: the agronomist decides, at the vine. A detection from the air is a suspicion, never a gap.",
		"After a dry or cold winter buds break late and unevenly: look twice before a vine is written off.",
		"Old neighbours shade a young vine and their roots take its water and food: it needs a hole wide and loose enough, water of its own and weeding in its first years; no mineral fertiliser at planting.",
		"Pulling and digging: before work find out where pipes, cables and posts run; keep people out of the reach of loader, auger and winch, never between a machine and a taut chain; wires under tension spring back; mind slopes and wet ground; local work-safety rules apply.",
		"Guards and young trunks are easily cut by strimmers and hoes: mark them before weeding. Weedkillers and soil treatments: the label is law; keep them off green trunks, keep entry intervals, wear what the label asks for.",
		"Plant certified, healthy material with its plant passport or certificate where the law asks for it; some diseases must be reported and infected vines destroyed by rule. Local plant-health and appellation rules go before this plan: check the text in force.",
		"A layered vine stands on its own roots: it is not safe where phylloxera or harmful nematodes live.",
	}
}
