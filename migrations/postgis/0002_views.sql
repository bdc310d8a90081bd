-- Views for GIS clients: one vine a line, with everything beside it that styles
-- and labels ask for. They only read; give a GIS user SELECT on them and no more.

-- +goose Up

-- The words of the stand format's numbers.
-- +goose StatementBegin
CREATE FUNCTION courson_condition(smallint) RETURNS text
    LANGUAGE sql IMMUTABLE PARALLEL SAFE
    RETURN (ARRAY['unseen', 'bearing', 'young', 'weak', 'diseased', 'dead', 'missing', 'replanted', 'doubtful'])[$1 + 1];
-- +goose StatementEnd
-- +goose StatementBegin
CREATE FUNCTION courson_progress(smallint) RETURNS text
    LANGUAGE sql IMMUTABLE PARALLEL SAFE
    RETURN (ARRAY['not_started', 'started', 'done', 'to_redo', 'skipped'])[$1 + 1];
-- +goose StatementEnd

-- Both views begin with the vines, and everything beside a vine is looked up for
-- it (LATERAL … LIMIT 1): so a map window finds its vines through the index on
-- their geometry and joins no more than those.

-- Every vine in every season of its estate that has a record or a plan. What is
-- carried forward (condition, cause, plant) comes from the newest season up to
-- it; measures and what was left are of the season itself. season_key is unique
-- within an estate, for clients that want one number.
CREATE VIEW courson_vine_season AS
SELECT v.estate_id,
       v.vine_id * 1000 + (es.season - 1800)                 AS season_key,
       v.vine_id,
       e.estate,
       b.code                                                AS block,
       b.variety,
       nullif(b.clone, '')                                   AS clone,
       nullif(b.rootstock, '')                               AS rootstock,
       nullif(b.system, '')                                  AS system,
       r.label                                               AS row_label,
       v.number,
       b.code || '/' || r.label || '/' || v.number           AS address,
       v.tag,
       es.season,
       CASE WHEN p.planted > 0 AND es.season >= p.planted
            THEN es.season - p.planted + 1 END               AS leaf,
       courson_condition(coalesce(s.condition, 0::smallint)) AS condition,
       s.cause,
       s.seen_at,
       s.look_again,
       courson_progress(coalesce(o.progress, 0::smallint))   AS pruning,
       o.pruning_weight_g,
       o.cane_count,
       o.score,
       o.score_scale,
       o.yield_g,
       o.nodes_left,
       o.canes_left,
       o.spurs_left,
       o.pruned_at,
       o.pruned_by,
       pl.nodes                                              AS nodes_planned,
       coalesce(o.notes, 0)                                  AS notes,
       coalesce(o.clashes, 0)                                AS clashes,
       v.chainage_m,
       v.geom
FROM vine v
CROSS JOIN LATERAL (
    SELECT coalesce(nullif(name, ''), key) AS estate FROM estate WHERE estate_id = v.estate_id LIMIT 1) e
CROSS JOIN LATERAL (
    SELECT season FROM estate_season WHERE estate_id = v.estate_id OFFSET 0) es
CROSS JOIN LATERAL (
    SELECT * FROM block WHERE estate_id = v.estate_id AND block_id = v.block_id LIMIT 1) b
CROSS JOIN LATERAL (
    SELECT label FROM vine_row WHERE estate_id = v.estate_id AND row_id = v.row_id LIMIT 1) r
LEFT JOIN LATERAL (
    SELECT * FROM vine_state WHERE estate_id = v.estate_id AND vine_id = v.vine_id AND season <= es.season
    ORDER BY season DESC LIMIT 1) s ON true
LEFT JOIN LATERAL (
    SELECT * FROM vine_state WHERE estate_id = v.estate_id AND vine_id = v.vine_id AND season = es.season
    LIMIT 1) o ON true
LEFT JOIN LATERAL (
    SELECT plan_id FROM plan
    WHERE estate_id = v.estate_id AND kind = 'pruning' AND season = es.season AND block_id = v.block_id
    ORDER BY plan_id DESC LIMIT 1) np ON true
LEFT JOIN LATERAL (
    SELECT nullif(nodes, -1) AS nodes FROM plan_entry
    WHERE estate_id = v.estate_id AND plan_id = np.plan_id AND vine_id = v.vine_id LIMIT 1) pl ON true
CROSS JOIN LATERAL (
    SELECT coalesce(s.planted, nullif(v.planted, 0), b.planted) AS planted) p;

-- Every vine as it stands in the newest season of its estate; vines of an estate
-- without any record too.
CREATE VIEW courson_vine AS
SELECT v.estate_id,
       v.vine_id,
       e.estate,
       b.code                                                AS block,
       b.variety,
       nullif(b.clone, '')                                   AS clone,
       nullif(b.rootstock, '')                               AS rootstock,
       nullif(b.system, '')                                  AS system,
       r.label                                               AS row_label,
       v.number,
       b.code || '/' || r.label || '/' || v.number           AS address,
       v.tag,
       n.season,
       CASE WHEN p.planted > 0 AND n.season >= p.planted
            THEN n.season - p.planted + 1 END                AS leaf,
       courson_condition(coalesce(s.condition, 0::smallint)) AS condition,
       s.cause,
       s.seen_at,
       s.look_again,
       courson_progress(CASE WHEN s.season = n.season THEN s.progress ELSE 0::smallint END) AS pruning,
       CASE WHEN s.season = n.season THEN s.pruning_weight_g END AS pruning_weight_g,
       CASE WHEN s.season = n.season THEN s.yield_g END      AS yield_g,
       CASE WHEN s.season = n.season THEN s.nodes_left END   AS nodes_left,
       v.chainage_m,
       v.geom
FROM vine v
CROSS JOIN LATERAL (
    SELECT coalesce(nullif(name, ''), key) AS estate FROM estate WHERE estate_id = v.estate_id LIMIT 1) e
CROSS JOIN LATERAL (
    SELECT * FROM block WHERE estate_id = v.estate_id AND block_id = v.block_id LIMIT 1) b
CROSS JOIN LATERAL (
    SELECT label FROM vine_row WHERE estate_id = v.estate_id AND row_id = v.row_id LIMIT 1) r
CROSS JOIN LATERAL (
    SELECT max(season) AS season FROM estate_season WHERE estate_id = v.estate_id) n
LEFT JOIN LATERAL (
    SELECT * FROM vine_state WHERE estate_id = v.estate_id AND vine_id = v.vine_id
    ORDER BY season DESC LIMIT 1) s ON true
CROSS JOIN LATERAL (
    SELECT coalesce(s.planted, nullif(v.planted, 0), b.planted) AS planted) p;

COMMENT ON VIEW courson_vine_season IS 'Courson: every vine in every recorded season, for GIS clients';
COMMENT ON VIEW courson_vine IS 'Courson: every vine as it stands in the newest season, for GIS clients';
