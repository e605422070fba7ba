-- How many repairs of each kind came back as the same failure.
-- Row: one repair with one combination of the columns asked for.
-- Key: the columns of :dimension, repair.
-- Grain: one repair in one cylinder of one case counts once. It came back when a later case stands in its chain.
-- repairs and came_back leave out what opened after :told_until, the last day from which the whole comeback window has been seen;
--   too_recent counts it. :no_repairs are entries that repair nothing.
WITH lasts AS (
    SELECT vehicle, cylinder_key, chain, MAX(turn) AS last_turn
    FROM chain_cases
    GROUP BY vehicle, cylinder_key, chain
),
repaired AS (
    SELECT DISTINCT
        1 AS every,
        m.vehicle, m.cylinder_key, m.source, m.case_id, f.repair,
        v.engine_family, v.model_year, c.site,
        CASE WHEN m.turn < l.last_turn THEN 1 ELSE 0 END AS returned,
        CASE WHEN CAST(m.opened AS BIGINT) <= :told_until THEN 1 ELSE 0 END AS told
    FROM chain_cases AS m
    JOIN lasts AS l ON m.vehicle = l.vehicle AND m.cylinder_key = l.cylinder_key AND m.chain = l.chain
    JOIN findings_now AS f ON m.source = f.source AND m.case_id = f.case_id
    JOIN cases_now AS c ON m.source = c.source AND m.case_id = c.case_id
    JOIN vehicles AS v ON m.vehicle = v.vehicle
    WHERE f.repair IS NOT NULL
        AND f.repair NOT IN (:no_repairs)
        AND f.confirmation >= :confirmation
        AND COALESCE(f.cylinder, c.complaint_cylinder, -1) = m.cylinder_key
-- each families
        AND v.engine_family IN (:families)
-- end
-- each sites
        AND c.site IN (:sites)
-- end
-- each model_years
        AND v.model_year IN (:model_years)
-- end
-- each cylinders
        AND m.cylinder_key IN (:cylinders)
-- end
-- each from
        AND m.opened >= :from
-- end
-- each to
        AND m.opened <= :to
-- end
-- each causes
        AND f.cause IN (:causes)
-- end
)
SELECT
-- each dimension
    :dimension,
-- end
    repair,
    SUM(told) AS repairs,
    SUM(told * returned) AS came_back,
    SUM(1 - told) AS too_recent,
    COUNT(DISTINCT CASE WHEN told = 1 THEN vehicle END) AS vehicles
FROM repaired
GROUP BY
-- each dimension
    :dimension,
-- end
    repair
ORDER BY
-- each dimension
    :dimension,
-- end
    repair
