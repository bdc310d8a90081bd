export * from "maplibre-gl";
