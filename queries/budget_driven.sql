-- The fleet that a past forecast is held against: engines known by the cut-off, and what they drove and failed after it.
-- Row: one engine.
-- Key: vehicle, engine_no.
-- Grain: stretches fold. Engines under observation up to the cut-off or beyond it; from_m to to_m on the engine's clock is what they
--   drove after it, up to the last day. A stretch is cut at the end of a day as in exposure.
--   repaired: 1 when the engine had failed up to the cut-off; failures: after it, under observation, several cylinders at one
--   place as one.
-- Order: vehicle, engine_no.
WITH known AS (
    SELECT DISTINCT vehicle, engine_no
    FROM stretches
    WHERE entry_m IS NOT NULL AND CAST(entry_date AS BIGINT) <= :cut_off
),
cut AS (
    SELECT
        vehicle, engine_no, engine_family, entry_m,
        CASE
            WHEN :cut_off >= CAST(exit_date AS BIGINT) THEN distance_m
            WHEN :cut_off <= CAST(entry_date AS BIGINT) THEN 0
            ELSE CAST(FLOOR(CAST(distance_m AS DOUBLE) * (:cut_off - CAST(entry_date AS BIGINT)) / NULLIF(CAST(exit_date AS BIGINT) - CAST(entry_date AS BIGINT), 0)) AS BIGINT)
        END AS left_m,
        CASE
            WHEN :last_day >= CAST(exit_date AS BIGINT) THEN distance_m
            WHEN :last_day <= CAST(entry_date AS BIGINT) THEN 0
            ELSE CAST(FLOOR(CAST(distance_m AS DOUBLE) * (:last_day - CAST(entry_date AS BIGINT)) / NULLIF(CAST(exit_date AS BIGINT) - CAST(entry_date AS BIGINT), 0)) AS BIGINT)
        END AS right_m
    FROM stretches
    WHERE entry_m IS NOT NULL AND distance_m > 0
),
driven AS (
    SELECT
        c.vehicle, c.engine_no,
        MIN(c.engine_family) AS engine_family,
        MIN(c.entry_m + c.left_m) AS from_m,
        MAX(c.entry_m + c.right_m) AS to_m
    FROM cut AS c
    JOIN known AS k ON c.vehicle = k.vehicle AND c.engine_no = k.engine_no
    WHERE c.right_m > c.left_m
    GROUP BY c.vehicle, c.engine_no
),
hits AS (
    SELECT DISTINCT vehicle, engine_no, position_m, under_observation, CAST(opened AS BIGINT) AS opened_day
    FROM episodes
    WHERE cause IN (:causes) AND chain > 0
),
earlier AS (
    SELECT DISTINCT vehicle, engine_no, 1 AS repaired
    FROM hits
    WHERE opened_day <= :cut_off
),
later_places AS (
    SELECT DISTINCT vehicle, engine_no, position_m
    FROM hits
    WHERE opened_day > :cut_off AND opened_day <= :last_day AND under_observation AND position_m IS NOT NULL
),
later AS (
    SELECT vehicle, engine_no, CAST(COUNT(*) AS BIGINT) AS failures
    FROM later_places
    GROUP BY vehicle, engine_no
)
SELECT
    d.vehicle,
    d.engine_no,
    d.engine_family,
    d.from_m,
    d.to_m,
    COALESCE(e.repaired, 0) AS repaired,
    COALESCE(l.failures, 0) AS failures
FROM driven AS d
LEFT JOIN earlier AS e ON d.vehicle = e.vehicle AND d.engine_no = e.engine_no
LEFT JOIN later AS l ON d.vehicle = l.vehicle AND d.engine_no = l.engine_no
ORDER BY d.vehicle, d.engine_no
