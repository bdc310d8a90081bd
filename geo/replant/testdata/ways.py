# The three ways of a block, reckoned apart from the package: plants by planting
# year, gaps by the year they arose, all as shares of the positions. Written from
# the documentation of Compare; prints the net present values per ha that
# TestCompare_Independent compares with. Run: python3 ways.py

PRICE, PICKING, FULL, TEND, REST = 1.2, 0.2, 8000, 5000, 300
REPLANT, PLANT, PULL, RATE = 10.5, 25000, 2000, 0.04
C, LOSS, LIVE, TAKE, REST_YEARS = 0.4, 0.02, 0.83, 0.96, 1
YEARS, REMAINING, OVER, GAPS, PER_HA = 30, 15, 3, 0.125, 4000


def crop(leaf, full, first=3):
    return min(1, max(0, (leaf - first + 1) / (full - first + 1)))


def losses(plants, gaps, year):
    gone = 0
    for k in plants:
        gone += plants[k] * LOSS
        plants[k] *= 1 - LOSS
    gaps[year] = gaps.get(year, 0) + gone


def fill(plants, gaps, year):
    fresh = gaps.get(year, 0)
    older = sum(v for born, v in gaps.items() if born < year)
    wanted = min(older, GAPS / OVER) if year < OVER else 0
    for born in gaps:
        gaps[born] *= 1 - LIVE if born == year else 1 - wanted * LIVE / older
    plants["replant", year] = (fresh + wanted) * LIVE
    return (fresh + wanted) * PER_HA


def harvest(plants, gaps, year):
    stand = 1
    for kind, born in plants:
        if kind == "new":
            stand = crop(year - born + 1, 5)
    share = sum(v * C * stand for born, v in gaps.items() if born < year)
    for (kind, born), v in plants.items():
        leaf = year - born + 1
        share += v * {"old": 1, "new": crop(leaf, 5), "replant": max(crop(leaf, 6), C * stand)}[kind]
    return share * FULL


def value(way):
    pull, total = (0 if way == "pull" else REMAINING), 0
    plants, gaps = {("old", 0): 1 - GAPS}, {-1: GAPS}
    for year in range(YEARS):
        cash = 0
        if year == pull:
            plants, gaps, cash = {}, {}, cash - PULL
        if year == pull + REST_YEARS:
            plants, gaps, cash = {("new", year): TAKE}, {year - 1: 1 - TAKE}, cash - PLANT
        elif year > 0 and not pull <= year < pull + REST_YEARS:
            losses(plants, gaps, year)
        if year < pull and way == "interplant":
            cash -= fill(plants, gaps, year) * REPLANT
        if pull <= year < pull + REST_YEARS:
            cash -= REST
        else:
            cash += harvest(plants, gaps, year) * (PRICE - PICKING) - TEND
        total += cash / (1 + RATE) ** year
    return total


for way in ("leave", "interplant", "pull"):
    print(f"{way}: {value(way):.4f}")
