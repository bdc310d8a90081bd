// The one place that names the vendored map library.

export { Map, Marker, setWorkerCount } from "../vendor/maplibre-gl-6.17.0/maplibre-gl.mjs";

/**
 * @typedef {import("../vendor/maplibre-gl-6.17.0/maplibre-gl.mjs").Map} MapLibreMap
 * @typedef {import("../vendor/maplibre-gl-6.17.0/maplibre-gl.mjs").CustomRenderMethodInput} CustomRenderMethodInput
 * @typedef {import("../vendor/maplibre-gl-6.17.0/maplibre-gl.mjs").MapLayerMouseEvent} MapMouseEvent
 * @typedef {import("@maplibre/maplibre-gl-style-spec").StyleSpecification} StyleSpecification
 * @typedef {import("@maplibre/maplibre-gl-style-spec").LayerSpecification} LayerSpecification
 * @typedef {import("@maplibre/maplibre-gl-style-spec").ExpressionSpecification} ExpressionSpecification
 * @typedef {import("@maplibre/maplibre-gl-style-spec").FilterSpecification} FilterSpecification
 */
