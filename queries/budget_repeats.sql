-- What engines did after a first failure of the causes asked for: the stretch to the next one, on the engine's clock.
-- Row: one stretch of one odometer segment.
-- Key: none.
-- Grain: failures of known place, those of one engine at one place (several cylinders) as one. again: 1 when the stretch ends
--   with the next failure, 0 when observation ended (or the period did) before it.
-- Order: engine_family, from_m, to_m, again.
WITH hits AS (
    SELECT DISTINCT vehicle, engine_no, position_m, opened
    FROM episodes
    WHERE cause IN (:causes)
        AND chain > 0
        AND position_m IS NOT NULL
        AND CAST(opened AS BIGINT) <= :last_day
),
places AS (
    SELECT vehicle, engine_no, position_m, MIN(opened) AS opened
    FROM hits
    GROUP BY vehicle, engine_no, position_m
),
with_next AS (
    SELECT
        vehicle, engine_no, position_m, opened,
        LEAD(position_m) OVER (PARTITION BY vehicle, engine_no ORDER BY position_m) AS next_m
    FROM places
),
cut AS (
    SELECT
        vehicle, engine_no, engine_family, entry_m,
        entry_m + CASE
            WHEN :last_day >= CAST(exit_date AS BIGINT) THEN distance_m
            WHEN :last_day <= CAST(entry_date AS BIGINT) THEN 0
            ELSE CAST(FLOOR(CAST(distance_m AS DOUBLE) * (:last_day - CAST(entry_date AS BIGINT)) / NULLIF(CAST(exit_date AS BIGINT) - CAST(entry_date AS BIGINT), 0)) AS BIGINT)
        END AS exit_m
    FROM stretches
    WHERE entry_m IS NOT NULL AND distance_m > 0
),
watched AS (
    SELECT vehicle, engine_no, engine_family, MIN(entry_m) AS entry_m, MAX(exit_m) AS exit_m
    FROM cut
    WHERE exit_m > entry_m
    GROUP BY vehicle, engine_no, engine_family
)
SELECT
    w.engine_family,
    GREATEST(n.position_m, w.entry_m) AS from_m,
    LEAST(w.exit_m, COALESCE(n.next_m, w.exit_m)) AS to_m,
    CASE WHEN n.next_m IS NOT NULL AND n.next_m <= w.exit_m THEN 1 ELSE 0 END AS again
FROM with_next AS n
JOIN watched AS w ON n.vehicle = w.vehicle AND n.engine_no = w.engine_no
WHERE w.exit_m > n.position_m
    AND w.entry_m < COALESCE(n.next_m, w.exit_m)
ORDER BY w.engine_family, from_m, to_m, again
