package pruning

import (
	"fmt"
	"strings"
)

// Systems gives the training systems that are built in. What a cane carries
// least, 4 nodes, is the short cane of a young vine (common practice).
func Systems() []System {
	return []System{
		SingleGuyot(), DoubleGuyot(), TwoArmedGuyot(), FourCane(), UnilateralCordon(), BilateralCordon(), HeadTrained(),
	}
}

// SingleGuyot is one arm with a cane of 6 to 10 nodes and a spur of 2 (caps of
// French decrees, JORFARTI000002264915; common practice).
func SingleGuyot() System {
	return System{Key: "single_guyot", Name: "single Guyot", Arms: 1, SpursPerArm: 1, NodesPerSpur: 2,
		CanesPerArm: 1, LeastNodesPerCane: 4, MostNodesPerCane: 10, Wires: 1}
}

// DoubleGuyot is two arms, each with a cane of 6 to 14 nodes and a spur of 2
// (Hellman E., Cane Pruning, eXtension Grapes, 2019; common practice).
func DoubleGuyot() System {
	return System{Key: "double_guyot", Name: "double Guyot", Arms: 2, SpursPerArm: 1, NodesPerSpur: 2,
		CanesPerArm: 1, LeastNodesPerCane: 4, MostNodesPerCane: 14, Wires: 1}
}

// TwoArmedGuyot has a spur of 2 on each of two arms and one cane of 6 to 10
// nodes, on either (Guyot-Poussard; Oenopedia, Quel raisonnement adopter pour
// respecter les flux de sève).
func TwoArmedGuyot() System {
	return System{Key: "two_armed_guyot", Name: "Guyot with two spurs and one cane", Arms: 2, SpursPerArm: 1, NodesPerSpur: 2,
		CanesPerArm: 1, MostCanes: 1, LeastNodesPerCane: 4, MostNodesPerCane: 10, Wires: 1}
}

// FourCane is four canes of 10 to 12.5 nodes on two wires and two spurs (Epee P.
// et al., OENO One 56(4), 2022; Naylor A., winetitles).
func FourCane() System {
	return System{Key: "four_cane", Name: "four-cane", Arms: 2, SpursPerArm: 1, NodesPerSpur: 2,
		CanesPerArm: 2, LeastNodesPerCane: 4, MostNodesPerCane: 12, Wires: 2}
}

// UnilateralCordon is one cordon with 2-node spurs every 15 cm, the least that
// the Champagne rule for the Royat cordon allows (Les 4 tailles de vignes
// autorisées en Champagne, 2013).
func UnilateralCordon() System {
	return System{Key: "unilateral_cordon", Name: "unilateral cordon", Arms: 1, NodesPerSpur: 2, SpurSpacingM: 0.15}
}

// BilateralCordon is two cordons with 2-node spurs every 13.3 cm, which makes 15
// shoots per metre (Plant shape, WineSkills; the spacing is arithmetic).
func BilateralCordon() System {
	return System{Key: "bilateral_cordon", Name: "bilateral cordon", Arms: 2, NodesPerSpur: 2, SpurSpacingM: 2.0 / 15}
}

// HeadTrained is a head or goblet of five arms, a spur of 2 nodes on each: 10
// nodes (decree JORFARTI000002264915 for gamay; Wolpert J., eXtension Grapes).
func HeadTrained() System {
	return System{Key: "head_trained", Name: "head-trained", Arms: 5, SpursPerArm: 1, NodesPerSpur: 2}
}

// tradeNames gives the English, French and Spanish words that estates write for
// each system, as plain makes them. Guyot without more means the single one, and
// Royat the cordon on one side (common practice).
func tradeNames(key string) string {
	switch key {
	case "single_guyot":
		return "single guyot|guyot|guyot single|guyot simple|simple guyot|unilateral guyot|guyot unilateral|guyot sencillo|vara y pulgar|" +
			"pulgar y vara|taille guyot|taille guyot simple|poda guyot|poda guyot simple|one cane|single cane|1 cane"
	case "double_guyot":
		return "double guyot|guyot double|bilateral guyot|guyot bilateral|guyot doble|doble guyot|taille guyot double|poda guyot doble|" +
			"two cane|two canes|2 cane|2 canes|double cane|deux baguettes|dos varas"
	case "two_armed_guyot":
		return "two armed guyot|guyot poussard|poussard|guyot with two spurs and one cane|guyot a deux coursons|guyot simple poussard|" +
			"taille guyot poussard|taille poussard|guyot de dos pulgares|two spurs one cane|two spurs and one cane"
	case "four_cane":
		return "four cane|four canes|4 cane|4 canes|quatre baguettes|cuatro varas|4 varas|4 baguettes"
	case "unilateral_cordon":
		return "unilateral cordon|single cordon|cordon unilateral|cordon de royat|royat|cordon royat|cordon simple|cordon de royat simple|" +
			"cordon royat simple|cordon de royat unilateral|cordon royat unilateral|royat unilateral|cordon sencillo|taille royat"
	case "bilateral_cordon":
		return "bilateral cordon|double cordon|cordon bilateral|cordon double|cordon doble|doble cordon|cordon de royat double|cordon royat double|" +
			"cordon de royat bilateral|cordon royat bilateral|royat double|royat bilateral|cordon royat doble|doble cordon royat|doble cordon de royat|" +
			"cordon de royat doble|spur pruned cordon"
	case "head_trained":
		return "head trained|head trained spur pruned|head|goblet|gobelet|taille gobelet|vaso|en vaso|poda en vaso|bush|bush vine|bush vines|bushvine"
	}
	return ""
}

// LookupSystem finds a built-in system by what an estate writes for it: a trade
// name in English, French or Spanish, its key or name, in any case, with or
// without accents and hyphens. The error wraps ErrSystem and lists the names.
func LookupSystem(text string) (System, error) {
	want := plain(text)
	var known []string
	for _, s := range Systems() {
		known = append(known, s.Name)
		if want == "" {
			continue
		}
		for _, name := range append(strings.Split(tradeNames(s.Key), "|"), plain(s.Key), plain(s.Name)) {
			if name == want {
				return s, nil
			}
		}
	}
	return System{}, fmt.Errorf("%w: %q is not known; wanted one of: %s; or give the block a system of its own", ErrSystem, text, strings.Join(known, ", "))
}

// plain brings a name to small letters without accents, words one blank apart.
func plain(text string) string {
	accents := strings.NewReplacer("à", "a", "á", "a", "â", "a", "è", "e", "é", "e", "ê", "e", "ë", "e", "í", "i", "î", "i", "ï", "i",
		"ó", "o", "ô", "o", "ú", "u", "û", "u", "ç", "c", "ñ", "n", "\u0300", "", "\u0301", "", "\u0302", "", "\u0303", "",
		"-", " ", "_", " ", "/", " ", ",", " ", ".", " ", "(", " ", ")", " ", "'", " ", "’", " ")
	return strings.Join(strings.Fields(accents.Replace(strings.ToLower(text))), " ")
}
