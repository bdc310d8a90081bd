#!/bin/sh
# Writes systems.csv with PROJ's cs2cs (proj-bin): points in the listed systems,
# from each system's own geographic one, and seven-parameters.csv. Geographic
# codes are latitude first for cs2cs and EPSG:2193 answers northing first, as
# their authorities have it; both files hold x first.
set -eu
cd "$(dirname "$0")"
point() { # geographic projected lon lat
	set -- "$@" "$(echo "$4 $3" | cs2cs -f %.6f "EPSG:$1" "EPSG:$2")"
	set -- "$1" "$2" "$3" "$4" $5
	if [ "$2" = 2193 ]; then
		echo "$1,$2,$3,$4,$6,$5"
	else
		echo "$1,$2,$3,$4,$5,$6"
	fi
}
{
	echo "geographic_epsg,epsg,lon,lat,x,y"
	point 4326 32601 -177.25 -1.5
	point 4326 32660 179.9 52.5
	point 4326 32701 -179.9 -16.8
	point 4326 32760 179.99 -16.81
	point 4326 32636 35.5 33.85
	point 4326 32638 45.8 41.9
	point 4258 25828 -16.3 32.7
	point 4258 25830 -2.45 42.47
	point 4258 25832 11.37 45.21
	point 4258 25838 44.1 40.2
	point 4283 28348 105.2 -10.4
	point 4283 28356 151.3 -32.8
	point 4283 28358 167.9 -29.0
	point 7844 7846 94.1 -12.1
	point 7844 7856 151.3 -32.8
	point 7844 7859 170.2 -30.1
	point 4269 26901 -176.5 52.1
	point 4269 26911 -119.3 46.2
	point 4269 26918 -77.1 42.6
	point 4269 26923 -45.5 60.1
	point 6318 6328 172.9 52.9
	point 6318 6330 -176.5 52.1
	point 6318 6339 -122.3 38.3
	point 6318 6348 -68.2 45.1
	point 4171 3942 3.03 42.5
	point 4171 3944 3.9 43.6
	point 4171 3945 -0.6 44.85
	point 4171 3947 4.84 47.02
	point 4171 3949 4.0 49.05
	point 4171 3950 2.9 50.3
	point 4171 2154 4.1 49.0
	point 4258 3763 -7.55 41.16
	point 4258 3763 -8.2 38.6
	point 4167 2193 176.85 -39.6
	point 4277 27700 0.3 50.95
	point 4277 27700 -5.1 50.3
	point 4269 2225 -122.9 40.9
	point 4269 2226 -122.4 38.5
	point 4269 2227 -121.75 37.65
	point 4269 2228 -120.1 36.8
	point 4269 2229 -120.2 34.7
	point 4269 2230 -117.1 33.5
	point 4269 2285 -120.1 47.9
	point 4269 2286 -119.6 46.2
	point 4269 2269 -123.1 45.2
	point 4269 2270 -122.9 42.3
	point 4326 3857 2.35 48.85
} >systems.csv
{
	echo "epsg,x,y,lon,lat"
	# 27700 to WGS 84 through the seven parameters alone (no grid file)
	for at in "561000 117000" "180000 41000" "325000 675000"; do
		set -- $at $(echo "$at" | cs2cs -f %.10f +proj=tmerc +lat_0=49 +lon_0=-2 +k=0.9996012717 +x_0=400000 +y_0=-100000 +ellps=airy +towgs84=446.448,-125.157,542.06,0.15,0.247,0.842,-20.489 +units=m +to +proj=longlat +datum=WGS84)
		echo "27700,$1,$2,$3,$4"
	done
} >seven-parameters.csv
