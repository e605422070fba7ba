-- Failure events as `repeats` follows them along one vehicle: where on the engine's clock, and whether the head came off.
-- Row: one failure event that passes the filter; where by_cause is asked for, one of its causes.
-- Key: vehicle, cylinder_key, chain (and cause).
-- Grain: an event with several causes is one row, unless cause is asked for.
-- position_m: where it failed, repaired_m: where its last case stood, both on the engine's clock. head_off: 1 when its last case
--   has a repair that takes the cylinder head off. counted, seen_before: as in event_counts.
WITH heads AS (
    SELECT DISTINCT
        f.source, f.case_id,
        CAST(COALESCE(f.cylinder, c.complaint_cylinder, -1) AS BIGINT) AS cylinder_key,
        1 AS head_off
    FROM findings_now AS f
    JOIN cases_now AS c ON f.source = c.source AND f.case_id = c.case_id
    WHERE f.repair IN (:head_off_repairs)
),
events AS (
    SELECT DISTINCT
        vehicle,
        CAST(COALESCE(cylinder, -1) AS BIGINT) AS cylinder_key,
        chain, engine_family, site, model_year, engine_no, position_m, source, case_id,
        under_observation
-- each with_later
        OR after_last_visit
-- end
        AS counted,
        under_observation OR after_last_visit AS seen_before
-- each by_cause
        , cause
-- end
    FROM episodes
    WHERE chain > 0
-- each families
        AND engine_family IN (:families)
-- end
-- each sites
        AND site IN (:sites)
-- end
-- each model_years
        AND model_year IN (:model_years)
-- end
-- each cylinders
        AND cylinder IN (:cylinders)
-- end
-- each from
        AND opened >= :from
-- end
-- each to
        AND opened <= :to
-- end
-- each causes
        AND cause IN (:causes)
-- end
)
SELECT
    e.vehicle, e.cylinder_key, e.chain, e.engine_family, e.site, e.model_year, e.engine_no,
-- each by_cause
    e.cause,
-- end
    e.position_m,
    e.counted,
    e.seen_before,
    m.position_m AS repaired_m,
    COALESCE(h.head_off, 0) AS head_off
FROM events AS e
JOIN chain_cases AS m
    ON e.source = m.source AND e.case_id = m.case_id AND e.cylinder_key = m.cylinder_key
LEFT JOIN heads AS h
    ON e.source = h.source AND e.case_id = h.case_id AND e.cylinder_key = h.cylinder_key
ORDER BY
-- each by_cause
    e.cause,
-- end
    e.vehicle, e.cylinder_key, e.chain
