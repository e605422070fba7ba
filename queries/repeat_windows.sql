-- Stretches of the engine's clock under observation, of the vehicles that must be known one by one.
-- Row: one unbroken window of one engine (at one site, where by_site is asked for).
-- Key: vehicle, engine_no, segment, entry_m (and site).
-- Grain: windows of vehicles that have a failure, or several windows; the others are in repeat_quiet.
-- :distance and :exit say how far a stretch counts, as in exposure. :source is spans, with :place main_site, where neither calendar nor site matters, else stretches. A stretch is cut at the end of a
--   day as in exposure; neighbouring stretches are put together again.
WITH wanted AS (
    SELECT
        vehicle, engine_no, segment, engine_family, model_year, :place AS site, entry_m, :distance AS distance_m,
        CAST(entry_date AS BIGINT) AS entry_day,
        CAST(:exit AS BIGINT) AS exit_day
    FROM :source
    WHERE :distance > 0 AND entry_m IS NOT NULL
-- each families
        AND engine_family IN (:families)
-- end
-- each sites
        AND :place IN (:sites)
-- end
-- each model_years
        AND model_year IN (:model_years)
-- end
),
cut AS (
    SELECT
        vehicle, engine_no, segment, engine_family, model_year, site, entry_m,
        CASE
            WHEN :before_first >= exit_day THEN distance_m
            WHEN :before_first <= entry_day THEN 0
            ELSE CAST(FLOOR(CAST(distance_m AS DOUBLE) * (:before_first - entry_day) / NULLIF(exit_day - entry_day, 0)) AS BIGINT)
        END AS left_m,
        CASE
            WHEN :last_day >= exit_day THEN distance_m
            WHEN :last_day <= entry_day THEN 0
            ELSE CAST(FLOOR(CAST(distance_m AS DOUBLE) * (:last_day - entry_day) / NULLIF(exit_day - entry_day, 0)) AS BIGINT)
        END AS right_m
    FROM wanted
),
parts AS (
    SELECT
        vehicle, engine_no, segment, engine_family, model_year, site,
        entry_m + left_m AS entry_m,
        entry_m + right_m AS exit_m
    FROM cut
    WHERE right_m > left_m
),
with_befores AS (
    SELECT
        vehicle, engine_no, segment, engine_family, model_year, site, entry_m, exit_m,
        LAG(exit_m) OVER (
            PARTITION BY vehicle, engine_no, segment
-- each by_site
            , site
-- end
            ORDER BY entry_m
        ) AS before_m
    FROM parts
),
with_starts AS (
    SELECT
        vehicle, engine_no, segment, engine_family, model_year, site, entry_m, exit_m,
        CAST(CASE WHEN before_m = entry_m THEN 0 ELSE 1 END AS BIGINT) AS starts
    FROM with_befores
),
numbered AS (
    SELECT
        vehicle, engine_no, segment, engine_family, model_year, site, entry_m, exit_m,
        SUM(starts) OVER (
            PARTITION BY vehicle, engine_no, segment
-- each by_site
            , site
-- end
            ORDER BY entry_m ROWS BETWEEN UNBOUNDED PRECEDING AND CURRENT ROW
        ) AS piece
    FROM with_starts
),
watched AS (
    SELECT
        1 AS every,
        vehicle, engine_no, segment, engine_family, model_year,
-- each by_site
        site,
-- end
        MIN(entry_m) AS entry_m,
        MAX(exit_m) AS exit_m
    FROM numbered
    GROUP BY
        vehicle, engine_no, segment, engine_family, model_year,
-- each by_site
        site,
-- end
        piece
),
counted AS (
    SELECT
        every, vehicle, engine_no, segment, engine_family, model_year,
-- each by_site
        site,
-- end
        entry_m,
        exit_m,
        SUM(every) OVER (
            PARTITION BY vehicle
-- each by_site
            , site
-- end
        ) AS windows
    FROM watched
),
failing AS (
    SELECT DISTINCT vehicle, 1 AS failed FROM episodes
)
SELECT
    w.vehicle, w.engine_no, w.segment, w.engine_family, w.model_year,
-- each by_site
    w.site,
-- end
    w.entry_m,
    w.exit_m
FROM counted AS w
LEFT JOIN failing AS f ON w.vehicle = f.vehicle
WHERE w.windows > 1 OR f.failed = 1
ORDER BY w.vehicle, w.engine_no, w.segment, w.entry_m
