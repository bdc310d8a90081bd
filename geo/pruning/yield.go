package pruning

// YieldKgPerHa is the crop expected after pruning: vines per ha × (1 - share
// missing) × nodes per vine × budburst × clusters per shoot × cluster weight in kg
// (components as in Dixon R., AWRI Technical Review 259, 2022).
func YieldKgPerHa(vinesPerHa, missingShare, nodesPerVine, budburst, clustersPerShoot, clusterKg float64) float64 {
	return vinesPerHa * (1 - missingShare) * nodesPerVine * budburst * clustersPerShoot * clusterKg
}

// YieldTonsPerAcre is the American form: bearing vines per acre × clusters per
// vine × cluster weight in lb / 2000 (Dami I., How to estimate grape yields, Ohio
// State University).
func YieldTonsPerAcre(vinesPerAcre, clustersPerVine, clusterLb float64) float64 {
	return vinesPerAcre * clustersPerVine * clusterLb / 2000
}

// Clusters is the bunches that so many nodes promise.
func Clusters(nodes, clustersPerNode float64) float64 { return nodes * clustersPerNode }

// Pieces is how many canes or spurs of so many nodes each a load makes, whole
// ones.
func Pieces(load, nodesEach int) int { return load / nodesEach }

// NodesForGround is the nodes per vine for a density per m² of ground, spacings
// in m.
func NodesForGround(nodesPerM2, rowSpacingM, vineSpacingM float64) float64 {
	return nodesPerM2 * rowSpacingM * vineSpacingM
}

// SpurSpacingM is the distance between spurs of so many nodes that makes so many
// shoots per metre of cordon, m.
func SpurSpacingM(shootsPerM float64, nodesPerSpur int) float64 {
	return float64(nodesPerSpur) / shootsPerM
}

// InternodeM is the mean internode of a cane with so many nodes, m.
func InternodeM(caneM float64, nodes int) float64 { return caneM / float64(nodes) }

// LeafWallM is the height of the leaf wall that French decrees often ask for: 0.6
// to 0.8 × the row spacing, m (JORFARTI000002264915).
func LeafWallM(rowSpacingM float64) (low, high float64) { return 0.6 * rowSpacingM, 0.8 * rowSpacingM }

// BudSample is the nodes cut open to count dead buds; 10 canes of 10 nodes are
// usual (Growing table grapes in a temperate climate).
func BudSample(canes, nodesEach int) int { return canes * nodesEach }

// Development is where a vine stands on its way to full crop.
type Development string

// The steps (Pate D. et al., Texas Vineyard Budgets, Texas Tech T-1-602).
const (
	Establishment Development = "establishment" // leaves 1 to 3
	Developing    Development = "development"   // leaf 4
	FullCrop      Development = "full"          // leaf 5 and later
)

// DevelopmentOf gives the step of a leaf; "" for leaf 0, which is not known.
func DevelopmentOf(leaf int) Development {
	switch {
	case leaf <= 0:
		return ""
	case leaf <= 3:
		return Establishment
	case leaf == 4:
		return Developing
	}
	return FullCrop
}
